"""Keys: made once, readable for their owner alone, and found by name."""

import os
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
)

from levelbook.archive.keys import (
    hex_of,
    list_keys,
    new_key,
    private_key,
    public_key,
    read_public,
)
from levelbook.errors import UsageError

posix = pytest.mark.skipif(os.name != "posix", reason="POSIX permissions")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder for keys that is not there yet."""
    return tmp_path / "deep" / "keys"


@posix
def test_files_are_the_owners_alone(folder: Path) -> None:
    """The private key has mode 600 and its folder 700 from the first moment."""
    old = os.umask(0)
    try:
        new_key(folder, "office")
    finally:
        os.umask(old)
    assert (folder / "office.key").stat().st_mode & 0o777 == 0o600
    assert folder.stat().st_mode & 0o777 == 0o700


def test_a_key_is_found_again(folder: Path) -> None:
    """What was made is listed, and both halves belong together."""
    made = new_key(folder, "office")
    assert list_keys(folder) == [made]
    assert hex_of(private_key(folder, "office").public_key()) == made.key
    assert public_key(folder, "office") == made.key
    assert public_key(folder, made.key.upper()) == made.key
    assert read_public(folder / "office.pub") == made.key


def test_a_key_may_be_a_file(folder: Path) -> None:
    """A path serves where a name does."""
    made = new_key(folder, "office")
    elsewhere = folder.parent / "none"
    assert hex_of(private_key(elsewhere, str(folder / "office.key")).public_key()) == made.key
    assert public_key(elsewhere, str(folder / "office.pub")) == made.key
    digits = folder / "digits.txt"
    digits.write_text(f"{made.key}\n")
    assert public_key(elsewhere, str(digits)) == made.key


def test_keys_differ_and_are_never_replaced(folder: Path) -> None:
    """Two keys are two, and a name that is taken stays."""
    one, two = new_key(folder, "one"), new_key(folder, "two")
    assert one.key != two.key
    with pytest.raises(UsageError, match="there is a key of this name"):
        new_key(folder, "one")
    assert list_keys(folder) == [one, two]


def test_a_public_key_alone_is_listed_as_such(folder: Path) -> None:
    """A key of someone else can be kept to verify with."""
    made = new_key(folder, "office")
    (folder / "office.key").unlink()
    assert not list_keys(folder)[0].private
    with pytest.raises(UsageError, match="no such key"):
        private_key(folder, "office")
    assert public_key(folder, "office") == made.key


@posix
@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660, 0o620, 0o601])
def test_a_key_that_others_can_use_is_refused(folder: Path, mode: int) -> None:
    """Any permission for group or world is refused, with the remedy."""
    new_key(folder, "office")
    (folder / "office.key").chmod(mode)
    with pytest.raises(UsageError) as told:
        private_key(folder, "office")
    assert "chmod 600" in told.value.remedy


def test_a_passphrase_is_asked_only_where_there_is_one(folder: Path) -> None:
    """A protected key opens with its passphrase alone; a plain one asks for none."""
    made = new_key(folder, "office", b"correct horse")
    assert b"ENCRYPTED" in (folder / "office.key").read_bytes()
    opened = private_key(folder, "office", lambda: b"correct horse")
    assert hex_of(opened.public_key()) == made.key
    with pytest.raises(UsageError, match="passphrase is wrong"):
        private_key(folder, "office", lambda: b"wrong")
    with pytest.raises(UsageError, match="passphrase"):
        private_key(folder, "office")
    with pytest.raises(UsageError, match="passphrase"):
        private_key(folder, "office", lambda: b"")
    new_key(folder, "plain")

    def asked() -> bytes:
        raise AssertionError

    private_key(folder, "plain", asked)


@pytest.mark.parametrize("name", ["", "../up", "a/b", ".hidden", "x" * 65, "a b", "nul\0"])
def test_names_are_plain(folder: Path, name: str) -> None:
    """A name cannot lead out of the folder."""
    with pytest.raises(UsageError):
        new_key(folder, name)
    with pytest.raises(UsageError):
        public_key(folder, name)


@pytest.mark.parametrize("content", [b"", b"junk", b"\xff" * 40, b"x" * 20_000, b"0" * 64])
def test_what_is_no_key_is_refused(folder: Path, content: bytes) -> None:
    """Junk, files too large and keys that anyone can sign for are refused in words."""
    folder.mkdir(parents=True)
    for ending in (".key", ".pub"):
        (folder / f"odd{ending}").write_bytes(content)
        (folder / f"odd{ending}").chmod(0o600)
    with pytest.raises(UsageError):
        private_key(folder, "odd")
    with pytest.raises(UsageError):
        public_key(folder, "odd")


def test_another_kind_of_key_is_refused(folder: Path) -> None:
    """Only Ed25519 keys make seals."""
    folder.mkdir(parents=True)
    other = generate_private_key(SECP256R1())
    secret = other.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    (folder / "odd.key").write_bytes(secret)
    (folder / "odd.key").chmod(0o600)
    open_text = other.public_key().public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
    (folder / "odd.pub").write_bytes(open_text)
    with pytest.raises(UsageError, match="another kind"):
        private_key(folder, "odd")
    with pytest.raises(UsageError, match="not a public key"):
        public_key(folder, "odd")


@posix
def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """A file where the folder should be is an error in words."""
    (tmp_path / "keys").write_text("")
    with pytest.raises(UsageError):
        new_key(tmp_path / "keys", "office")


def test_no_folder_has_no_keys(folder: Path) -> None:
    """Before the first key the list is empty."""
    assert list_keys(folder) == []
