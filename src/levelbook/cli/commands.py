"""The commands: each reads a book, asks the library, and prints what it answers."""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook import __version__
from levelbook.cli import inputs, outputs, verdict
from levelbook.cli.archive import archive_app
from levelbook.cli.compare import compare
from levelbook.cli.exchange import export, import_
from levelbook.cli.failures import BookError, CheckError
from levelbook.cli.firm import firm_app
from levelbook.cli.options import BookPath, Criteria, Json, Out, Overwrite
from levelbook.cli.returning import again, remind, return_sheet
from levelbook.cli.sealing import keys_app, seal, verify
from levelbook.cli.serve import serve
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.book.model import Book
    from levelbook.cli.printer import Printer

GOOD, FINDINGS, BAD = 0, 1, 2

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="From floor-level readings of a house to its true shape, and a report. "
    "Exit codes: 0 nothing to report, 1 findings in the book, 2 bad use or input.",
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"levelbook {__version__}")
        raise typer.Exit(GOOD)


@app.callback()
def levelbook(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="print the version"),
    ] = False,
) -> None:
    """Floor-level readings of a house, reduced, shaped, screened and reported."""


def printer(book: "Book") -> "Printer":
    """Return what prints tables on standard output."""
    from rich.console import Console

    from levelbook.cli.printer import Printer

    return Printer(Console(highlight=False), book)


@app.command()
def check(book: BookPath, as_json: Json = False) -> int:
    """Check a book: faults that keep it from being used, and what a colleague would ask."""
    from levelbook.book import notices

    try:
        document = inputs.read(book)
    except BookError as failure:
        raise CheckError(failure.book, failure.cause) from None
    found = notices(document)
    if as_json:
        outputs.emit({"faults": [], "warnings": [asdict(notice) for notice in found]})
    else:
        show = printer(document)
        show.head()
        show.points("A careful colleague would ask", map(str, found))
        if not found:
            show.say("Nothing to ask: the book can be used as it is.")
    return FINDINGS if found else GOOD


@app.command()
def levels(
    book: BookPath,
    as_json: Json = False,
    covariance: Annotated[
        bool, typer.Option("--covariance", help="with --json: the full covariance matrix too")
    ] = False,
) -> int:
    """Reduce the readings to levels with their uncertainty, and name those that do not fit."""
    if covariance and not as_json:
        raise UsageError("--covariance", "a matrix is not printed as a table", "add --json")
    document = inputs.read(book)
    from levelbook.book import notices
    from levelbook.floor.suspects import find_suspects
    from levelbook.levels import reduce

    result = reduce(document)
    suspects = find_suspects(document, result)
    if as_json:
        from levelbook.findings.documents import levels_document

        outputs.emit(levels_document(document, result, suspects, covariance=covariance))
    else:
        from levelbook.cli import tables

        show = printer(document)
        show.head()
        tables.levels(show, result)
        tables.suspects(show, suspects)
    return FINDINGS if notices(document) or verdict.on_levels(result, suspects) else GOOD


@app.command()
def assess(
    book: BookPath,
    as_json: Json = False,
    criteria: Criteria = None,
    water: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y", help="follow water from this place on a garage floor, too"),
    ] = None,
) -> int:
    """Levels, the floor's shape, criteria with their sources, where water goes, the screening."""
    sets, places = inputs.criteria_sets(criteria or ()), inputs.places(water or ())
    document = inputs.read(book)
    from levelbook.findings.assessment import assess as assess_book

    result = assess_book(document, criteria=sets, water=places)
    if as_json:
        from levelbook.findings.documents import assess_document

        outputs.emit(assess_document(result))
    else:
        from levelbook.cli import tables

        tables.assessment(printer(document), result)
    return FINDINGS if verdict.on_assessment(result) else GOOD


@app.command()
def report(
    books: Annotated[
        list[str],
        typer.Argument(metavar="BOOK...", help="level-book files, folders of them, or -"),
    ],
    out: Out = None,
    criteria: Criteria = None,
    as_json: Json = False,
    overwrite: Overwrite = False,
    jobs: Annotated[
        int, typer.Option("--jobs", min=0, help="reports made at once (0: one a processor)")
    ] = 0,
) -> int:
    """Write the report of each book: PDF, HTML, CSV and JSON."""
    from levelbook.cli import batch

    orders = batch.order_each(
        inputs.find_books(books), out, tuple(criteria or ()), overwrite=overwrite
    )
    outcomes = batch.run(orders, jobs)
    if as_json:
        outputs.emit(batch.document(outcomes))
    else:
        batch.tell(outcomes)
    return max((outcome.code for outcome in outcomes), default=GOOD)


@app.command()
def demo(out: Out = None) -> int:
    """Write the report of the invented demo house; print where its PDF and HTML lie."""
    from levelbook.cli import batch
    from levelbook.demo import NAME, house

    made = batch.write(batch.Order(NAME, out or Path("levelbook-demo"), data=house()))
    for kind in ("PDF", "HTML"):
        place = next(p for p in made.files if p.suffix == f".{kind.lower()}")
        typer.echo(f"{kind}: {place.resolve()}")
    return GOOD


@app.command()
def schema() -> int:
    """Print the JSON Schema of the level-book document."""
    from levelbook.book import schema as document_schema

    outputs.emit(document_schema(), indent=2)
    return GOOD


@app.command()
def criteria(as_json: Json = False) -> int:
    """List the sets of criteria that come with the program, with their sources."""
    from levelbook.findings.catalogue import builtin_sets

    if as_json:
        outputs.emit({"sets": [each.model_dump(mode="json") for each in builtin_sets()]})
    else:
        from rich.console import Console

        from levelbook.cli import tables

        tables.criteria_sets(Console(highlight=False), builtin_sets())
    return GOOD


app.command()(compare)
app.command()(serve)
app.command()(seal)
app.command()(verify)
app.command()(again)
app.command()(return_sheet)
app.command()(remind)
app.command("import")(import_)
app.command()(export)
app.add_typer(keys_app, name="keys")
app.add_typer(firm_app, name="firm")
app.add_typer(archive_app, name="archive")
