"""The signing keys and the mail settings of a data folder, as a backup holds them.

They are read after the rows, so that the key of every release in a backup is there: a key is
made before what it seals. Put back, each is for its owner alone, and none is ever replaced.
"""

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from levelbook.archive.keys import LARGEST as LARGEST_KEY
from levelbook.archive.keys import PRIVATE, PUBLIC, create
from levelbook.errors import DamagedError, UsageError

KEYS, MAIL = "keys", "mail.toml"
"""The folder of the keys and the file of the mail settings, below a data folder."""
LARGEST = 100_000
"""Bytes of the mail settings; of a key far fewer are allowed."""
_NAME = re.compile(rf"{KEYS}/[A-Za-z0-9][A-Za-z0-9_-]{{0,63}}({PRIVATE}|{PUBLIC})|{MAIL}")


def kept_files(folder: Path) -> Iterator[tuple[str, bytes]]:
    """Yield name and content of each key of a data folder, and of its mail settings.

    Raises
    ------
    UsageError
        If there is no such folder, or one of them cannot be read.
    """
    if not folder.is_dir():
        raise UsageError(str(folder), "there is no such folder", "name the server's data folder")
    found = [file for file in sorted((folder / KEYS).glob("*")) if file.is_file()]
    for file in (*found, folder / MAIL):
        name = file.relative_to(folder).as_posix()
        if _NAME.fullmatch(name) and (file.exists() or file.parent != folder):
            yield name, _read(file)


def put_back(folder: Path, files: Iterable[tuple[str, bytes]]) -> tuple[str, ...]:
    """Write files of a backup into a data folder, for their owner alone (mode 600).

    Returns
    -------
    tuple of str
        Names of files that are there already with another content; they stay as they are.

    Raises
    ------
    DamagedError
        If a name is none that such a file has; nothing is written then.
    UsageError
        If the folder cannot be written to.
    """
    given = dict(files)
    for name in given:
        if not _NAME.fullmatch(name):
            raise DamagedError(name[:80], "this is no file of a data folder", "take another backup")
    return tuple(name for name, data in given.items() if not _put(folder / name, data))


def _put(file: Path, data: bytes) -> bool:
    """Write a new file, whole or not at all; ``False`` if another is there."""
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if file.exists():
            return _read(file) == data
        create(file, data, 0o600)
    except OSError as error:
        raise _refused(file, error) from None
    return True


def _read(file: Path) -> bytes:
    most = LARGEST if file.name == MAIL else LARGEST_KEY
    try:
        with file.open("rb") as stream:
            data = stream.read(most + 1)
    except OSError as error:
        raise _refused(file, error) from None
    if len(data) > most:
        remedy = "look at what it is, and take it out of the folder"
        raise UsageError(str(file), f"this is larger than {most} bytes", remedy)
    return data


def _refused(file: Path, error: OSError) -> UsageError:
    told = (error.strerror or type(error).__name__).lower()
    return UsageError(str(file), told, "check the folder and its permissions")
