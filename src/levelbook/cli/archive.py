"""The command ``archive``: figures over all visits of an archive, and what is done with it."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli import archive_store, inputs, outputs
from levelbook.cli.failures import from_os
from levelbook.cli.options import DATABASE, Criteria, DatabaseUrl, Json
from levelbook.cli.serve import default_folder
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.archive.database import Database
    from levelbook.archive.evaluation.columns import Criteria as Choice
    from levelbook.archive.evaluation.crew import Crew
    from levelbook.archive.evaluation.figures import Houses
    from levelbook.archive.evaluation.run import Progress, Summary
    from levelbook.archive.evaluation.source import Source
    from levelbook.archive.evaluation.telling import HousePlaced

GOOD, FINDINGS = 0, 1

archive_app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    help="Figures over all visits of an archive (assess, figures), and the archive itself "
    "(migrate, move, backup, restore).",
)
archive_app.command("migrate")(archive_store.migrate)
archive_app.command("move")(archive_store.move)
archive_app.command("backup")(archive_store.backup)
archive_app.command("restore")(archive_store.restore)


class By(StrEnum):
    """What houses are told apart by."""

    YEAR = "year-built"
    FOUNDATION = "foundation"
    PURPOSE = "purpose"
    FIRM = "firm"
    ALL = "all"


Out = Annotated[
    Path, typer.Option("--out", metavar="DIR", help="folder for the figures, made if needed")
]
Books = Annotated[
    Path | None, typer.Argument(metavar="FOLDER", help="a folder of books, in place of a store")
]
Firm = Annotated[
    str | None, typer.Option("--firm", metavar="ID", help="which firm's visits of the database")
]
Workers = Annotated[
    int, typer.Option("--workers", min=0, help="processes at once (0: one a processor)")
]
Scheduler = Annotated[
    str | None,
    typer.Option("--cluster", metavar="ADDRESS", help="a Dask scheduler, whose workers do it"),
]


@archive_app.command("assess")
def assess(  # noqa: PLR0913, PLR0917 (each is an option of the command)
    out: Out,
    books: Books = None,
    data: archive_store.Data = None,
    database: DatabaseUrl = "",
    firm: Firm = None,
    criteria: Criteria = None,
    workers: Workers = 0,
    cluster: Scheduler = None,
    as_json: Json = False,
) -> int:
    """Work out the figures of every visit, to Parquet; given again, it goes on where it was."""
    from levelbook.archive.evaluation.columns import Criteria as Choice

    choice = Choice(inputs.criteria_sets(tuple(criteria or ())))
    with _source(books, data, database, firm) as source, _crew(workers, cluster) as crew:
        done = _run(source, choice, out, crew)
    if as_json:
        outputs.emit(asdict(done) | {"folder": str(out)})
    else:
        _tell(done, out)
    return FINDINGS if done.failed else GOOD


@archive_app.command("figures")
def figures(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="what archive assess wrote")],
    by: Annotated[By, typer.Option("--by", help="what houses are told apart by")] = By.ALL,
    house: Annotated[
        str | None, typer.Option("--house", metavar="BOOK", help="place this house among its kind")
    ] = None,
    as_json: Json = False,
) -> int:
    """Tell how range, tilt and deflection are spread over an archive, with their intervals."""
    from levelbook.archive.evaluation import telling
    from levelbook.archive.evaluation.figures import groups, read_houses

    houses = read_houses(folder)
    placed = None if house is None else _placed(folder, houses, house, by)
    found = groups(houses, by.value)
    if as_json:
        outputs.emit(telling.document(houses, by.value, found, placed))
    else:
        from rich.console import Console

        from levelbook.cli import archive_tables

        archive_tables.show(Console(highlight=False), houses, found, placed)
    return GOOD


@contextmanager
def _source(
    books: Path | None, data: Path | None, address: str, firm: str | None
) -> "Iterator[Source]":
    """Give where the visits come from: one place, and one alone.

    The database that the environment names is meant where nothing else is.
    """
    from levelbook.archive.evaluation.source import DatabaseSource, FolderSource

    if (books or data) and address == os.environ.get(DATABASE):
        address = ""
    if sum(map(bool, (books, data, address))) > 1:
        problem = "a folder of books, --data and --database exclude each other"
        raise UsageError("archive assess", problem, "give one of them")
    if firm is not None and not address:
        raise UsageError("--firm", "only a firm's database holds firms", "give --database too")
    if books is not None:
        yield FolderSource(books)
        return
    with _opened(address or _stored(data)) as database:
        yield DatabaseSource(database, _known(database, firm))


def _stored(data: Path | None) -> str:
    """Return the address of a store on this machine."""
    from levelbook.archive.database import file_url
    from levelbook.archive.place import STORE

    file = (data or default_folder()).expanduser() / STORE
    if not file.is_file():
        remedy = "name a folder of books, or a store with --data or --database"
        raise UsageError(str(file), "there is no store here", remedy)
    return file_url(file)


@contextmanager
def _opened(address: str) -> "Iterator[Database]":
    """Give a database of this release's schema, and close it afterwards."""
    from sqlalchemy.exc import OperationalError

    from levelbook.archive.database import Database
    from levelbook.archive.migrating import require_current

    database = Database(address)
    try:
        require_current(database)
        yield database
    except OperationalError:
        problem = "the database does not answer"
        remedy = "check the address, and that the server is running"
        raise UsageError("--database", problem, remedy) from None
    finally:
        database.close()


def _known(database: "Database", firm: str | None) -> str:
    """Return the firm that is asked for, or the only one there is."""
    from levelbook.archive.evaluation.source import firms
    from levelbook.archive.tables import LOCAL

    known = firms(database) or (LOCAL,)
    if firm is None and len(known) == 1:
        return known[0]
    if firm is None or firm not in known:
        problem = "the database holds several firms" if firm is None else "there is no such firm"
        told = ", ".join(known[:20])
        raise UsageError("--firm", problem, f"give one of: {told}")
    return firm


@contextmanager
def _crew(workers: int, address: str | None) -> "Iterator[Crew]":
    """Give who works: a cluster, several processes, or this one."""
    from levelbook.archive.evaluation.crew import Alone, Processes

    if address is not None:
        if workers:
            problem = "the workers of a cluster are its own"
            raise UsageError("--workers", problem, "leave it out with --cluster")
        from levelbook.archive.evaluation.cluster import Cluster

        cluster = Cluster(address)
        try:
            yield cluster
        finally:
            cluster.close()
        return
    count = workers or os.cpu_count() or 1
    yield Alone() if count == 1 else Processes(count)


def _run(source: "Source", choice: "Choice", out: Path, crew: "Crew") -> "Summary":
    """Run it; an interruption says how to go on."""
    from levelbook.archive.evaluation.run import run

    try:
        with _progress(source.count()) as progress:
            return run(source, choice, out, crew, progress=progress)
    except KeyboardInterrupt:
        sys.stderr.write("levelbook: what is done is kept; the same command goes on from there\n")
        raise
    except OSError as error:
        raise from_os(str(out), error) from None


@contextmanager
def _progress(total: int) -> "Iterator[Progress]":
    """Show on a terminal how many visits are done; elsewhere show nothing."""
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    console = Console(stderr=True)
    bar = Progress(
        TextColumn("visits"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        console=console,
        transient=True,
        disable=not console.is_terminal,
    )
    with bar:
        task = bar.add_task("", total=total)
        yield lambda count: bar.update(task, advance=count)


def _tell(done: "Summary", out: Path) -> None:
    """Print what was done, and on standard error where the failures are listed."""
    from levelbook.archive.evaluation.parquet import FAILURES, PARTS
    from levelbook.book.numbers import counted

    kept = f" ({done.kept} done before)" if done.kept else ""
    every = counted(done.visits, "visit")
    typer.echo(f"{every}, {done.rows} of them with figures{kept}: {out / PARTS}")
    if done.failed:
        sys.stderr.write(
            f"levelbook: visits without figures: {done.failed}; why is told in {out / FAILURES}\n"
        )


def _placed(folder: Path, houses: "Houses", name: str, by: By) -> "HousePlaced":
    """Return where the house of a book stands.

    Raises
    ------
    UsageError
        If the archive was evaluated by another version, whose figures may differ.
    """
    from levelbook.archive.evaluation.columns import Criteria as Choice
    from levelbook.archive.evaluation.figures import place_house
    from levelbook.archive.evaluation.parquet import read_manifest
    from levelbook.archive.evaluation.telling import HousePlaced
    from levelbook.archive.evaluation.work import program, row_of

    made = str((read_manifest(folder) or {}).get("program"))
    if made != program():
        problem = f"the figures there are by {made}, and this is {program()}"
        raise UsageError(str(folder), problem, "evaluate the archive again into another folder")
    own = row_of(inputs.read(name), Choice())
    kind, placed = place_house(houses, own, by.value)
    return HousePlaced(kind, placed, int(own["suspects"] or 0))
