"""The command that compares visits."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from levelbook.cli import inputs, outputs, verdict
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.book.model import Book
    from levelbook.movement.model import Visit
    from levelbook.report.comparison import ComparisonSource

GOOD, FINDINGS = 0, 1


def compare(
    books: Annotated[
        list[str],
        typer.Argument(
            metavar="EARLIER LATER [MORE...]",
            help="level-book files of one house, in the order of their dates",
        ),
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="print the result as one JSON document")
    ] = False,
    hold: Annotated[
        str,
        typer.Option(
            "--hold",
            metavar="ID,ID...",
            help="stations known to have stood still, such as an outside bench mark "
            "(default: those that agree with one another)",
        ),
    ] = "",
    tolerance: Annotated[
        float | None,
        typer.Option(
            "--tolerance",
            min=0.0,
            metavar="LENGTH",
            help="how far a station may lie from its former place, in the plan's unit "
            "(default: 2 ft or 0.6 m)",
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="write the report (PDF, HTML, JSON) there"),
    ] = None,
    overwrite: Annotated[
        bool, typer.Option("--overwrite", help="replace files that this program did not write")
    ] = False,
) -> int:
    """Compare visits to one house: what changed, how sure that is, and what cannot be known."""
    if len(books) < 2:
        raise UsageError("books", "one visit cannot be compared", "name two or more, oldest first")
    read = [inputs.read_sealed(path) for path in books]
    source = _source([_visit(book) for book, _ in read], _ids(hold), tolerance)
    source = replace(source, seals=(read[0][1], read[-1][1]))
    files = [] if out is None else _write(books, source, out, overwrite=overwrite)
    if as_json:
        outputs.emit(source.document)
    else:
        _tell(source, files)
    return FINDINGS if verdict.on_comparison(source.comparison) else GOOD


def _ids(hold: str) -> list[str]:
    return [each.strip() for each in hold.split(",") if each.strip()]


def _visit(book: "Book") -> "Visit":
    """Return a visit with its levels."""
    from levelbook.levels import reduce
    from levelbook.movement import Visit

    return Visit(book, reduce(book))


def _source(visits: "list[Visit]", hold: list[str], tolerance: float | None) -> "ComparisonSource":
    """Return the comparison of the first visit with the last, and the series of all."""
    from levelbook.findings.compared import compare_document
    from levelbook.findings.comparison import comparison_words
    from levelbook.movement import compare as compare_two
    from levelbook.movement.series import follow
    from levelbook.report.comparison import ComparisonSource

    series = follow(visits, hold=hold, tolerance=tolerance) if len(visits) > 2 else None
    if series is not None:
        found = series.whole
    else:
        found = compare_two(visits[0], visits[-1], hold=hold, tolerance=tolerance)
    words = comparison_words(found)
    document = compare_document(found, words.caveats, series=series)
    return ComparisonSource(found, words, document, series)


def _write(
    books: list[str], source: "ComparisonSource", out: Path, *, overwrite: bool
) -> list[Path]:
    """Write the report's files; return their places."""
    from levelbook.report.comparison import build_comparison

    name = f"{_stem(books[0])}-to-{_stem(books[-1])}"
    files = {name + ending: data for ending, data in build_comparison(source).items()}
    if not overwrite:
        outputs.refuse_foreign(out, list(files), f"{name}.json")
    return outputs.save(out, files)


def _stem(path: str) -> str:
    return "book" if path == inputs.STDIN else Path(path).stem


def _tell(source: "ComparisonSource", files: list[Path]) -> None:
    """Print the comparison as text: the statement first, then tables."""
    from rich.console import Console

    from levelbook.cli.printer import Printer
    from levelbook.findings.comparison import say
    from levelbook.report.blocks import Prose, Table
    from levelbook.report.comparison_tables import Tables

    show = Printer(Console(highlight=False), source.comparison.earlier.book)
    tables = Tables(source.comparison, source.series)
    show.points(say("heading.statement"), source.words.statement)
    show.points(say("heading.cannot"), source.words.caveats)
    for title, blocks in (
        ("heading.sections", tables.sections()),
        ("heading.trend", tables.trend()),
        ("heading.places", tables.places()),
    ):
        for block in blocks:
            if isinstance(block, Table):
                names = [(">" if c.align == "right" else "") + c.label for c in block.columns]
                show.table(say(title), names, [row.cells for row in block.rows])
            elif isinstance(block, Prose):
                show.say("\n" + " ".join(block.items))
    show.points(say("heading.method"), source.words.method)
    for file in files:
        show.say(str(file))
