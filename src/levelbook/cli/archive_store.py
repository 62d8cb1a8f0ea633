"""The archive itself: its schema, moving it, taking a backup and restoring it.

These commands are for whoever runs the machine the archive lies on, and need no account.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli.failures import from_os, told_when_away
from levelbook.cli.options import DatabaseUrl, Json
from levelbook.cli.outputs import emit
from levelbook.cli.serve import default_folder
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.archive.backup import Told
    from levelbook.archive.place import Place

GOOD = 0
SHORTEST = 12
"""Characters of a password for a backup."""

Data = Annotated[
    Path | None, typer.Option("--data", metavar="DIR", help="folder of a store on this machine")
]
Files = Annotated[
    str | None,
    typer.Option(
        "--files",
        metavar="ADDRESS",
        envvar="LEVELBOOK_FILES",
        help="where the server's files lie: a folder, or s3://BUCKET/PREFIX",
    ),
]
Whence = Annotated[str, typer.Option("--from", metavar="URL|DIR", help="the archive to move")]
Whither = Annotated[
    str, typer.Option("--to", metavar="URL|DIR", help="a server's database, or a folder")
]
PasswordFile = Annotated[
    Path | None,
    typer.Option("--password-file", metavar="FILE", help="a file with the backup's password"),
]


def migrate(
    database: DatabaseUrl = "",
    data: Data = None,
    to: Annotated[
        str,
        typer.Option("--to", metavar="SCHEMA", help="go to this schema; the newest if not given"),
    ] = "",
) -> int:
    """Bring a database to the schema of this release, or back to that of an earlier one."""
    from levelbook.archive.database import Database, file_url
    from levelbook.archive.migrating import HEAD
    from levelbook.archive.migrating import migrate as change
    from levelbook.archive.place import STORE

    wanted = to or HEAD
    url = _one(database, data)
    with told_when_away():
        opened = Database(url if "://" in url else file_url(Path(url) / STORE))
        try:
            before = change(opened, wanted)
        finally:
            opened.close()
    was = f"was {before}" if before else "was empty"
    typer.echo(f"Schema: {wanted} ({'as before' if before == wanted else was})")
    return GOOD


def move(
    whence: Whence,
    whither: Whither,
    firm: Annotated[
        str | None, typer.Option("--firm", metavar="ID", help="the firm on the server")
    ] = None,
    files: Files = None,
    to_files: Annotated[
        str | None,
        typer.Option("--to-files", metavar="ADDRESS", help="--files of --to, between two servers"),
    ] = None,
    as_json: Json = False,
) -> int:
    """Bring what another archive lacks of this one over to it; given again, it goes on."""
    from levelbook.archive.moving import move as bring
    from levelbook.archive.place import open_place
    from levelbook.book.numbers import counted

    if "://" in whence and "://" in whither and to_files is None:
        problem = "where the files of the second server lie is not told"
        raise UsageError("--to-files", problem, "name the folder, or s3://BUCKET/PREFIX")
    with told_when_away():
        source = open_place(whence, files if "://" in whence else None)
        try:
            new = open_place(whither, to_files or files if "://" in whither else None, new=True)
            try:
                moved = bring(source, new, firm, _now())
            finally:
                new.close()
        finally:
            source.close()
    if as_json:
        emit(asdict(moved))
        return GOOD
    added = (
        counted(moved.visits, "visit"),
        counted(moved.entries, "entry", "entries"),
        counted(moved.files, "file"),
        counted(moved.lines + moved.others, "other row"),
    )
    typer.echo(f"Added: {', '.join(added)}")
    typer.echo(f"Both sides: sha256 {moved.sha256}")
    return GOOD


def backup(  # noqa: PLR0913, PLR0917 (each is an option of the command)
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="the file to write, a new one")
    ],
    database: DatabaseUrl = "",
    data: Data = None,
    files: Files = None,
    password_file: PasswordFile = None,
    with_keys: Annotated[
        Path | None,
        typer.Option(
            "--with-keys",
            metavar="DIR",
            help="also the signing keys and mail.toml of this folder, the server's --data",
        ),
    ] = None,
    lacking: Annotated[
        bool, typer.Option("--lacking", help="leave damaged files out, and tell which")
    ] = False,
    as_json: Json = False,
) -> int:
    """Write everything in an archive to one file, while it is in use, and check that file."""
    from levelbook.archive.backup import backup as take

    password = _password(password_file)
    with told_when_away(), _place(_one(database, data), files) as place:
        told = take(place, out, _now(), password, lacking=lacking, keys=with_keys)
    _tell(told, f"Backup: {out}", as_json=as_json)
    if not as_json:
        _tell_of_keys(told, with_keys)
    return GOOD


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="a backup")],
    to: Whither,
    files: Files = None,
    password_file: PasswordFile = None,
    keys_to: Annotated[
        Path | None,
        typer.Option(
            "--keys-to",
            metavar="DIR",
            help="folder for signing keys and mail.toml, the --data of the server to be",
        ),
    ] = None,
    as_json: Json = False,
) -> int:
    """Check a backup, then bring all of it into an empty database or a new folder."""
    from levelbook.archive.backup import opened, require_keys_folder
    from levelbook.archive.backup import restore as bring

    password = _password(password_file)
    keys = keys_to or (None if "://" in to else Path(to).expanduser())
    with told_when_away():
        with opened(file, password) as reader:
            reader.check()  # before anything is made
            require_keys_folder(reader, keys)
        with _place(to, files if "://" in to else None, new=True) as place:
            told = bring(file, place, password, keys=keys)
    _tell(told, f"Restored: {to.rpartition('@')[2]}", as_json=as_json)
    if not as_json:
        _tell_of_restoring(told, keys)
    return GOOD


def _one(database: str, data: Path | None) -> str:
    """Return the one archive that is meant: a database's address, or a folder."""
    if data is not None:
        return str(data.expanduser())
    return database or str(default_folder().expanduser())


@contextmanager
def _place(where: str, files: str | None, *, new: bool = False) -> "Iterator[Place]":
    from levelbook.archive.place import open_place

    place = open_place(where, files if "://" in where else None, new=new)
    try:
        yield place
    finally:
        place.close()


def _password(file: Path | None) -> bytes | None:
    """Return the password in a file, without the end of its line.

    Raises
    ------
    UsageError
        If there is none, or it is short.
    """
    if file is None:
        return None
    try:
        password = file.read_bytes().rstrip(b"\r\n")
    except OSError as error:
        raise from_os("--password-file", error) from None
    if len(password) < SHORTEST:
        problem = f"this password has fewer than {SHORTEST} characters"
        raise UsageError("--password-file", problem, "take a longer one")
    return password


def _tell(told: "Told", first: str, *, as_json: bool) -> None:
    if as_json:
        emit(asdict(told))
        return
    from levelbook.book.numbers import counted

    holds = (
        counted(told.firms, "firm"),
        counted(told.visits, "visit"),
        counted(told.entries, "entry", "entries"),
        counted(told.files, "file"),
    )
    typer.echo(first)
    typer.echo(f"Holds: {', '.join(holds)}, {told.size / 1e6:.1f} MB, as of {told.made}")
    for name in told.lacking:
        typer.echo(f"Lacking: {name}")


def _tell_of_keys(told: "Told", folder: Path | None) -> None:
    if told.keys:
        typer.echo(f"Keys and settings: {', '.join(told.keys)}")
        typer.echo("Not in it: a password file that mail.toml names, and certificates.")
    elif folder is not None:
        typer.echo(f"Not in it: there are no signing keys and no mail.toml in {folder}.")
    else:
        typer.echo(
            "Not in it: signing keys and mail settings. Keep a copy of them apart, or give "
            "--with-keys and --password-file."
        )


def _tell_of_restoring(told: "Told", keys: Path | None) -> None:
    """Tell what became of the keys, and what comes next."""
    for name in told.keys:
        if name in told.left:
            typer.echo(f"Left as it is: {keys}/{name}; the backup has another of this name")
        else:
            typer.echo(f"In place: {keys}/{name}")
    if not told.keys:
        typer.echo("Not in it: signing keys and mail settings; bring your copy of them back.")
    typer.echo(
        "Devices send again by themselves what they hold and this lacks, when their pages are "
        "opened next. Releases and links made after the backup was taken are gone; new reports "
        "are numbered 1,000 further."
    )


def _now() -> str:
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
