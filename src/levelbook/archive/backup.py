"""Backup of a whole archive while it is in use, and restoring it.

A backup shows one moment: its rows are read in one transaction that nothing written meanwhile
can be seen in, and a file is there before its row. Restoring checks everything before it
writes anything, writes all rows in one transaction, and reads them again before it ends it.
Then the archive begins another life, by which devices learn that it may lack what they sent
after the backup was taken, and send it again.
"""

import hashlib
import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.exc import DataError, IntegrityError, InterfaceError, ProgrammingError

from levelbook.archive.container import OTHER_COPY, Part, Reader, Sink, Writer
from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.encrypted import MAGIC, Decrypting, Encrypting
from levelbook.archive.keyring import kept_files, put_back
from levelbook.archive.life import renew
from levelbook.archive.migrating import HEAD, SAME_ROWS, index_again
from levelbook.archive.moments import stamp
from levelbook.archive.place import Place
from levelbook.archive.rows import KEPT, firm_ids, from_line, read_rows, to_line, write_rows
from levelbook.archive.tables import BLOBS, FIRMS, LOCAL
from levelbook.errors import DamagedError, UsageError

GAP = 1_000_000
"""How far numbering jumps on restoring, past every number that a device may have seen."""
_NO_FIRM, _DATA = "", "data/"
"""Of the parts that are files of the data folder: keys and mail settings."""
_REFUSALS = (IntegrityError, DataError, ProgrammingError, InterfaceError)
_TABLES = {table.name: table for table in KEPT}


@dataclass
class _Writing:
    """A backup that is being written: of what, when, and the files it has to do without.

    ``keys`` is the data folder whose keys and mail settings go in, if any.
    """

    place: Place
    made: str
    allowed: bool
    keys: Path | None
    lacking: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Told:
    """What a backup holds: the moment it was begun, and how much of what.

    Attributes
    ----------
    lacking
        Files that were not what was kept, and are left out.
    keys
        Names of the keys and mail settings in it.
    left
        Of these, the ones that were not put back: others of these names are there.
    """

    made: str
    firms: int
    visits: int
    entries: int
    files: int
    size: int
    lacking: tuple[str, ...]
    keys: tuple[str, ...] = ()
    left: tuple[str, ...] = ()


def backup(
    place: Place,
    out: Path,
    made: str,
    password: bytes | None = None,
    *,
    lacking: bool = False,
    keys: Path | None = None,
) -> Told:
    """Write everything in an archive to the file ``out``; ``made`` is the time.

    Parameters
    ----------
    lacking
        Leave files out that are not what was kept, and tell which.
    keys
        The data folder whose signing keys and mail settings go in, too.

    Raises
    ------
    UsageError
        If there is a file of this name already, or keys shall go into it in the clear.
    DamagedError
        If a file of the archive is not what was kept: there is no backup then.
    """
    if out.exists():
        raise UsageError(str(out), "there is such a file already", "choose another name")
    if keys is not None and password is None:
        problem = "keys and mail settings go into an encrypted backup alone"
        raise UsageError("--with-keys", problem, "give --password-file, too")
    part = out.with_name(f"{out.name}.part")
    try:
        with _written(part) as stream:
            _write(_Writing(place, made, lacking, keys), stream, password)
        with opened(part, password) as reader:
            reader.check()
            told = _told(reader)
        part.replace(out)
    finally:
        part.unlink(missing_ok=True)
    return told


@contextmanager
def opened(file: Path, password: bytes | None = None) -> Iterator[Reader]:
    """Open a backup to read.

    Raises
    ------
    UsageError
        If there is none, or it is encrypted and the password is missing or wrong.
    DamagedError
        If it is none, or cut off.
    """
    try:
        stream: BinaryIO = file.open("rb")
    except OSError as error:
        problem = (error.strerror or "it cannot be read").lower()
        raise UsageError(str(file), problem, "check the name") from None
    with stream:
        if stream.read(len(MAGIC)) == MAGIC:
            if password is None:
                problem = "this backup is encrypted"
                raise UsageError("--password-file", problem, "name the file with its password")
            stream = io.BufferedReader(Decrypting(stream, password, file.name), 1 << 16)
        reader = Reader(stream, file.name)
        if reader.manifest.get("schema") not in SAME_ROWS:
            problem = f"this backup is of the schema {reader.manifest.get('schema')}, not {HEAD}"
            raise UsageError(file.name, problem, "restore it with the release that made it")
        yield reader


def restore(
    file: Path, place: Place, password: bytes | None = None, *, keys: Path | None = None
) -> Told:
    """Bring everything in a backup into an empty archive.

    ``keys`` is the data folder that keys and mail settings go into; none there is replaced.

    Raises
    ------
    DamagedError
        If the backup is not whole; nothing is written then.
    UsageError
        If the archive is not empty, or cannot hold what the backup holds, or there are keys
        in it and no folder for them.
    """
    with opened(file, password) as reader:
        reader.check()
        firms = {part.firm for part in reader.parts} - {_NO_FIRM}
        if place.own and firms != {LOCAL}:
            problem = "this backup is of a server, with firms and accounts"
            raise UsageError("--to", problem, "give the address of a server's database")
        if not place.own and LOCAL in firms:
            problem = "this backup is of one's own machine"
            remedy = "restore it into a folder, then bring it over with: levelbook archive move"
            raise UsageError("--to", problem, remedy)
        require_empty(place)
        _check_files(reader)
        left = _put_back(reader, keys)
        for part in _files(reader):
            place.shelf.put(part.firm, part.sha256, b"".join(reader.pieces(part)))
        with place.database.use(EVERY_FIRM) as connection:
            _restore_rows(reader, place.database, connection)
            if reader.manifest["schema"] != HEAD:
                index_again(place.database, connection)
            _live_again(place.database, connection)
        return replace(_told(reader), left=left)


def require_keys_folder(reader: Reader, keys: Path | None) -> None:
    """Refuse to restore a backup with keys in it where no folder is named for them.

    Raises
    ------
    UsageError
        With the option that names it.
    """
    if keys is None and _of_folder(reader):
        problem = "there are signing keys or mail settings in this backup"
        raise UsageError("--keys-to", problem, "name the data folder of the server to be")


def _put_back(reader: Reader, keys: Path | None) -> tuple[str, ...]:
    require_keys_folder(reader, keys)
    parts = _of_folder(reader)
    files = [(p.name.removeprefix(_DATA), b"".join(reader.pieces(p))) for p in parts]
    return () if keys is None else put_back(keys, files)


def _live_again(database: Database, connection: Connection) -> None:
    """Let every firm's archive begin another life."""
    now = stamp(datetime.now(UTC))
    for firm in firm_ids(database, connection):
        database.name_firm(connection, firm)
        renew(connection, firm, now)


def require_empty(place: Place) -> None:
    """Refuse an archive that holds anything.

    Raises
    ------
    UsageError
        With what it holds.
    """
    with place.database.snapshot() as connection:
        firms = firm_ids(place.database, connection)
        if place.own and firms == (LOCAL,):
            held = _first_held(place.database, connection)
        else:
            held = f"the firm {firms[0]}" if firms else None
    if held is not None:
        problem = f"this archive is not empty: it holds {held}"
        raise UsageError("--to", problem, "restore into a new folder or an empty database")


def _first_held(database: Database, connection: Connection) -> str | None:
    database.name_firm(connection, LOCAL)
    for table in KEPT:
        if table is not FIRMS and next(read_rows(connection, table, LOCAL), None) is not None:
            return f"rows of {table.name}"
    return None


@contextmanager
def _written(part: Path) -> Iterator[BinaryIO]:
    """Give a new file that only its owner reads, and see it to the disk."""
    number = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(number, "wb") as stream:
        yield stream
        stream.flush()
        os.fsync(stream.fileno())


def _write(writing: _Writing, stream: BinaryIO, password: bytes | None) -> None:
    encrypting = None if password is None else Encrypting(stream, password)
    sink: Sink = stream if encrypting is None else encrypting
    database = writing.place.database
    with Writer(sink) as writer, database.snapshot() as connection:
        for firm in firm_ids(database, connection):
            database.name_firm(connection, firm)
            _write_firm(writing, connection, writer, firm)
        for name, data in () if writing.keys is None else kept_files(writing.keys):
            writer.add(_DATA + name, _NO_FIRM, "", [data])
        writer.close(made=writing.made, schema=HEAD, lacking=writing.lacking)
    if encrypting is not None:
        encrypting.finish()


def _write_firm(writing: _Writing, connection: Connection, writer: Writer, firm: str) -> None:
    for table in KEPT:
        rows = read_rows(connection, table, firm)
        writer.add(f"firms/{firm}/{table.name}.jsonl", firm, table.name, map(to_line, rows))
    names = [row["sha256"] for row in read_rows(connection, BLOBS, firm)]
    blobs = writing.place.blobs(firm)
    for sha256 in names:
        try:
            data = blobs.get(sha256)
        except DamagedError:
            if not writing.allowed:
                raise
            data = None
        if data is None:
            writing.lacking.append(f"{firm}/{sha256}")
        else:
            writer.add(f"files/{firm}/{sha256}", firm, "", [data])


def _check_files(reader: Reader) -> None:
    """Refuse a backup whose rows name files that it has not."""
    here = {f"{part.firm}/{part.sha256}" for part in _files(reader)}
    here |= set(reader.manifest["lacking"])
    for part in reader.parts:
        if part.table == BLOBS.name:
            for row in _rows(reader, part, BLOBS):
                if f"{part.firm}/{row['sha256']}" not in here:
                    problem = f"the file {row['sha256']} is not in it"
                    raise DamagedError(reader.name, problem, OTHER_COPY)


def _restore_rows(reader: Reader, database: Database, connection: Connection) -> None:
    """Write all rows and read them again; an error undoes all."""
    parts = [part for part in reader.parts if part.table]
    for part in parts:
        table = _table(reader, part)
        database.name_firm(connection, part.firm)
        if table is FIRMS:  # a new folder has its own already
            connection.execute(sa.delete(FIRMS).where(FIRMS.c.id == part.firm))
        try:
            write_rows(connection, table, _rows(reader, part, table))
        except _REFUSALS:
            problem = "a row of it was refused by the database"
            raise DamagedError(part.name, problem, OTHER_COPY) from None
    _number_on(database, connection)
    for part in parts:
        database.name_firm(connection, part.firm)
        again = map(to_line, read_rows(connection, _table(reader, part), part.firm))
        if digest_of(again) != part.sha256:
            problem = f"{part.name} did not come back as it was written"
            raise DamagedError(part.table, problem, "nothing was kept: report this")


def _rows(reader: Reader, part: Part, table: sa.Table) -> Iterator[dict[str, object]]:
    for number, line in enumerate(reader.lines(part), 1):
        yield from_line(line, table, part.firm, f"{part.name}, line {number}")


def _table(reader: Reader, part: Part) -> sa.Table:
    if part.table not in _TABLES:
        raise DamagedError(reader.name, f"there is no table {part.table[:40]}", OTHER_COPY)
    return _TABLES[part.table]


def _number_on(database: Database, connection: Connection) -> None:
    """Let numbers go on far beyond those that devices have seen after the backup was taken."""
    for table in (t for t in KEPT if "seq" in t.c):
        if database.postgresql:
            query = f"SELECT setval('{table.name}_seq_seq', {{}})"
        else:
            query = f"UPDATE sqlite_sequence SET seq = {{}} WHERE name = '{table.name}'"
        last = _last(database, connection, table)
        if last:
            connection.execute(sa.text(query.format(last + GAP)))


def _last(database: Database, connection: Connection, table: sa.Table) -> int:
    """Return the last number of a table over all firms."""
    found = 0
    for firm in firm_ids(database, connection):
        database.name_firm(connection, firm)
        found = max(found, connection.execute(sa.select(sa.func.max(table.c.seq))).scalar() or 0)
    return found


def digest_of(lines: Iterator[bytes]) -> str:
    """Return the SHA-256 of lines."""
    digest = hashlib.sha256()
    for line in lines:
        digest.update(line)
    return digest.hexdigest()


def _told(reader: Reader) -> Told:
    def rows(table: str) -> int:
        return sum(part.rows for part in reader.parts if part.table == table)

    files = _files(reader)
    told, lacking = str(reader.manifest["made"]), tuple(reader.manifest["lacking"])
    sizes = sum(part.size for part in reader.parts)
    keys = tuple(part.name.removeprefix(_DATA) for part in _of_folder(reader))
    counts = rows("firms"), rows("visits"), rows("entries"), len(files)
    return Told(told, *counts, sizes, lacking, keys)


def _files(reader: Reader) -> list[Part]:
    """Return the parts that are photographs and released files."""
    return [part for part in reader.parts if part.table == "" and part.firm != _NO_FIRM]


def _of_folder(reader: Reader) -> list[Part]:
    """Return the parts that are keys and mail settings."""
    return [part for part in reader.parts if part.table == "" and part.firm == _NO_FIRM]
