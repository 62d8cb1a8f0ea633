"""Keys that seals are made with: kept as files of their owner's alone, found by name.

A key called ``office`` is two files: ``office.key``, the private key (PKCS #8 in PEM, with a
passphrase if wanted), and ``office.pub``, the public key that may be given to anyone. A
private key that others on the machine can read is refused, as it may no longer be private.
"""

import os
import re
import secrets
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    KeySerializationEncryption,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)

from levelbook.archive.seal import is_weak
from levelbook.errors import UsageError

NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
LARGEST = 10_000
PRIVATE, PUBLIC = ".key", ".pub"
_HEX = re.compile(r"[0-9a-fA-F]{64}")
_OTHERS = stat.S_IRWXG | stat.S_IRWXO


@dataclass(frozen=True, slots=True)
class PublicKey:
    """A public key of the store: its name and its 64 hexadecimal digits."""

    name: str
    key: str
    private: bool
    """Whether the private key lies beside it."""


def new_key(folder: Path, name: str, passphrase: bytes | None = None) -> PublicKey:
    """Make a key pair and keep it in ``folder``, which is made if needed.

    Raises
    ------
    UsageError
        If the name is not usable or taken, or the files cannot be written.
    """
    _check_name(name)
    private, public = folder / (name + PRIVATE), folder / (name + PUBLIC)
    for taken in (private, public):
        if taken.exists():
            raise UsageError(str(taken), "there is a key of this name", "choose another name")
    made = Ed25519PrivateKey.generate()
    lock: KeySerializationEncryption = (
        BestAvailableEncryption(passphrase) if passphrase else NoEncryption()
    )
    secret = made.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, lock)
    open_text = made.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        create(private, secret, 0o600)
        create(public, open_text, 0o644)
    except OSError as error:
        raise _refused(folder, error) from error
    return PublicKey(name, hex_of(made.public_key()), private=True)


def _check_name(name: str) -> None:
    if not NAME.fullmatch(name):
        raise UsageError(
            f"key {name[:64]!r}",
            "this is not a name for a key",
            "take up to 64 letters, digits, - and _",
        )


def create(path: Path, content: bytes, mode: int) -> None:
    """Write a new file with its permissions from the first moment; never replace one.

    It is there whole or not at all, whatever breaks off: half a key would stand in the way of
    every other.
    """
    part = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        _name(part, path)
    finally:
        part.unlink(missing_ok=True)


def _name(part: Path, path: Path) -> None:
    """Give a file its name if nothing is called so."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without links, such as that of many sticks
        if path.exists():
            raise
        part.rename(path)


def _refused(path: Path, error: OSError) -> UsageError:
    told = (error.strerror or type(error).__name__).lower()
    return UsageError(str(path), told, "check the path and its permissions")


def list_keys(folder: Path) -> list[PublicKey]:
    """Return the public keys in ``folder``, by name; none where there is no such folder.

    Raises
    ------
    UsageError
        If the folder or a key in it cannot be read.
    """
    try:
        names = sorted(file.stem for file in folder.glob("*" + PUBLIC) if file.is_file())
    except OSError as error:
        raise _refused(folder, error) from None
    return [
        PublicKey(name, read_public(folder / (name + PUBLIC)), (folder / (name + PRIVATE)).exists())
        for name in names
    ]


def private_key(
    folder: Path, name: str, passphrase: Callable[[], bytes] | None = None
) -> Ed25519PrivateKey:
    """Return the private key called ``name`` in ``folder``, or in the file ``name``.

    ``passphrase`` is asked only where the key has one.

    Raises
    ------
    UsageError
        If there is no such key, others can read it, the passphrase is wrong, or it is not an
        Ed25519 key.
    """
    path = _find(folder, name, PRIVATE)
    content = _read(path, private=True)
    secret = passphrase() if passphrase and b"ENCRYPTED" in content else None
    try:
        key = load_pem_private_key(content, secret)
    except TypeError:
        remedy = "give the passphrase" if secret is None else "give none"
        raise UsageError(str(path), "the passphrase does not suit this key", remedy) from None
    except (ValueError, UnsupportedAlgorithm):
        problem = "this is not a private key" if secret is None else "the passphrase is wrong"
        remedy = "name a key made with: levelbook keys new" if secret is None else "try again"
        raise UsageError(str(path), problem, remedy) from None
    if not isinstance(key, Ed25519PrivateKey):
        raise UsageError(
            str(path), "this is another kind of key", "make one with: levelbook keys new"
        )
    return key


def public_key(folder: Path, name: str) -> str:
    """Return the 64 digits of a public key given as such, by name, or as a file.

    Raises
    ------
    UsageError
        If it is none of these.
    """
    if _HEX.fullmatch(name):
        return _sound(name.lower(), "key")
    return read_public(_find(folder, name, PUBLIC))


def read_public(path: Path) -> str:
    """Return the 64 digits of the public key in a file (PEM, or the digits themselves).

    Raises
    ------
    UsageError
        If the file holds no Ed25519 public key.
    """
    content = _read(path)
    text = content.strip().decode("ascii", "replace")
    if _HEX.fullmatch(text):
        return _sound(text.lower(), str(path))
    try:
        key = load_pem_public_key(content)
    except (ValueError, UnsupportedAlgorithm):
        key = None
    if not isinstance(key, Ed25519PublicKey):
        raise UsageError(str(path), "this is not a public key of ours", "give the file NAME.pub")
    return _sound(hex_of(key), str(path))


def hex_of(key: Ed25519PublicKey) -> str:
    """Return a public key as 64 hexadecimal digits."""
    return key.public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def _sound(key: str, place: str) -> str:
    if is_weak(key):
        raise UsageError(place, "anyone could sign for this key", "ask its owner for the right one")
    return key


def _find(folder: Path, name: str, ending: str) -> Path:
    """Return the file of a key: that name in the store, or the file so called."""
    for path in _places(folder, name, ending):
        if path.is_file():
            return path
    known = ", ".join(key.name for key in list_keys(folder)) or "none"
    raise UsageError(
        f"key {name[:200]}",
        "there is no such key",
        f"name one of those kept here ({known}) or a file",
    )


def _places(folder: Path, name: str, ending: str) -> Iterator[Path]:
    if NAME.fullmatch(name):
        yield folder / (name + ending)
    if name and "\0" not in name:
        yield Path(name)


def _read(path: Path, *, private: bool = False) -> bytes:
    """Return the content of a key file, refusing a private one that others can read."""
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            if private and os.name == "posix" and mode & _OTHERS:
                raise UsageError(
                    str(path),
                    f"others can use this private key (its permissions are {mode & 0o777:o})",
                    f"run: chmod 600 {path}; if others had access, make a new key",
                )
            content = file.read(LARGEST + 1)
    except OSError as error:
        raise _refused(path, error) from error
    if len(content) > LARGEST:
        raise UsageError(str(path), "this is too large for a key", "name a key file")
    return content
