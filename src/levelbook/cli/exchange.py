"""The commands ``import`` and ``export``: other people's files in, files for others out."""

import json
import sys
from collections.abc import Callable
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from levelbook.cli import inputs, outputs, photographs
from levelbook.cli.failures import BookError, faults_of, from_os
from levelbook.cli.options import BookPath, Criteria, Json, Overwrite
from levelbook.cli.returning import File, beside, put
from levelbook.errors import UsageError

if TYPE_CHECKING:
    from levelbook.book.model import Book
    from levelbook.exchange.making import Order
    from levelbook.exchange.questions import ImportPlan, Question
    from levelbook.findings.model import Assessment

GOOD, BAD = 0, 2
ROUNDS = 20
Kind = Literal["levels", "error", "deflection"]


class Format(StrEnum):
    """What can be written."""

    PACKAGE = "package"
    BOOK = "book"
    XLSX = "xlsx"
    CSV = "csv"
    DXF = "dxf"
    GEOJSON = "geojson"
    LANDXML = "landxml"
    SVG = "svg"
    PNG = "png"


def import_(  # noqa: PLR0913, PLR0917 - each is an option of the command
    file: Annotated[
        str,
        typer.Argument(
            metavar="FILE", help="a table, sketch, outline, book or report; - for pasted text"
        ),
    ],
    into: Annotated[
        str | None, typer.Option("--into", metavar="BOOK", help="add to this book (kept as it is)")
    ] = None,
    outline: Annotated[
        str | None, typer.Option("--outline", metavar="FILE", help="floors from DXF, SVG, GeoJSON")
    ] = None,
    places: Annotated[
        str | None, typer.Option("--places", metavar="FILE", help="a table of station, x and y")
    ] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option("--answer", metavar="KEY=ANSWER", help="an answer; give it again for more"),
    ] = None,
    answers: Annotated[
        str | None, typer.Option("--answers", metavar="FILE", help="answers as one JSON object")
    ] = None,
    out: File = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
) -> int:
    """Take readings from a table or sketch, or an outline, into a book; ask what is unclear."""
    from levelbook.exchange.incoming import plan_import

    data, given = _read(file), _answers(answers, answer or ())
    target = out or beside(file, ".json")
    beside_it = {
        "into": _base(into) if into else None,
        "outline": _read(outline) if outline else None,
        "places": _read(places) if places else None,
    }
    name = "pasted text" if file == inputs.STDIN else Path(file).name
    plan = plan_import(data, name, given, **beside_it)  # type: ignore[arg-type]
    for _ in range(ROUNDS):
        if not plan.questions or as_json or file == inputs.STDIN or not sys.stdin.isatty():
            break
        _tell(plan)
        given |= {question.key: _ask(question) for question in plan.questions}
        plan = plan_import(data, name, given, **beside_it)  # type: ignore[arg-type]
    written = _write(plan, target, overwrite=overwrite)
    plan, pictures = photographs.bring(plan, data, target.parent)
    return _finish(plan, written, pictures, as_json=as_json)


def _base(path: str) -> "Book | dict[str, Any]":
    """Return the book to add to, or the document of one that only lacks its readings."""
    data = inputs.read_bytes(path)
    try:
        return inputs.read(path, data)
    except BookError as error:
        if {fault.code for fault in faults_of(error)} != {"no-readings"}:
            raise
    document: dict[str, Any] = json.loads(data)
    return document


def _read(path: str) -> bytes:
    """Return a file, or pasted text for ``-``; one byte more at most than a table may have."""
    from levelbook.archive.holders import LARGEST, is_pdf, is_zip
    from levelbook.exchange.tables import LARGEST as TABLE

    def bounded(read: Callable[[int], bytes]) -> bytes:
        data = read(TABLE + 1)
        return data + read(LARGEST) if is_pdf(data) or is_zip(data) else data

    try:
        if path == inputs.STDIN:
            return bounded(sys.stdin.buffer.read)
        with Path(path).open("rb") as file:
            return bounded(file.read)
    except OSError as error:
        raise from_os(path, error) from None


def _write(plan: "ImportPlan", out: Path, *, overwrite: bool) -> Path | None:
    """Write the book if there is one yet."""
    from levelbook.book import write_book

    if plan.book is None:
        return None
    return put(out, out, write_book(plan.book).encode(), overwrite=overwrite)


def _finish(
    plan: "ImportPlan", written: Path | None, pictures: list[Path], *, as_json: bool
) -> int:
    """Tell what was written, or what has to be answered first."""
    if as_json:
        made = {
            "file": None if written is None else str(written),
            "photographs": [str(picture) for picture in pictures],
        }
        outputs.emit(plan.told(len(plan.left)) | made)
    else:
        _tell(plan)
        for question in plan.questions:
            sys.stderr.write(f"levelbook: {_asked(question)}\n")
        for path in pictures:
            typer.echo(f"{path}")
        typer.echo("nothing was written" if written is None else f"{written}")
    return BAD if plan.book is None else GOOD


def _answers(path: str | None, single: "list[str] | tuple[str, ...]") -> dict[str, str]:
    """Return the answers of a file and those given one by one, which go before."""
    found: dict[str, str] = {}
    if path is not None:
        try:
            document = json.loads(inputs.read_bytes(path))
        except ValueError:
            raise UsageError(path, "this is not JSON", 'write {"key": "answer", …}') from None
        if not isinstance(document, dict):
            raise UsageError(path, "this is no JSON object", 'write {"key": "answer", …}')
        found |= {str(key): str(value) for key, value in document.items()}
    for each in single:
        key, sign, value = each.partition("=")
        if not sign:
            raise UsageError("--answer", f"{each[:40]!r} has no =", "write it as KEY=ANSWER")
        found[key] = value
    return found


def _tell(plan: "ImportPlan") -> None:
    """Print what an import takes, what it assumes and what it leaves."""
    for column in plan.columns:
        typer.echo(
            f"column {column.letter} ({column.title or 'no title'}): {column.role or 'not taken'}"
        )
    for line in (*plan.taken, *plan.assumed):
        typer.echo(line)
    for left in plan.left[:20]:
        typer.echo(f"not taken: {left.place}: {left.what}; {left.why}")
    if len(plan.left) > 20:
        typer.echo(f"not taken: {len(plan.left) - 20} more (all of them with --json)")


def _asked(question: "Question") -> str:
    """Return a question in one line, with its key and what may be answered."""
    options = ", ".join(f"{option.key} ({option.says})" for option in question.options)
    usual = f" Usually {question.usual}." if question.usual else ""
    told = f" One of: {options}." if options else ""
    return f"{question.asks}{told}{usual} [--answer {question.key}=…]"


def _ask(question: "Question") -> str:
    """Return the answer of the person at the terminal."""
    typer.echo("")
    for option in question.options:
        typer.echo(f"  {option.key}: {option.says}")
    keys = [option.key for option in question.options]
    while True:
        said: str = typer.prompt(question.asks, default=question.usual)
        if not keys or said in keys:
            return said
        typer.echo(f"  Please answer one of: {', '.join(keys)}")


def export(  # noqa: PLR0913, PLR0917 - each is an option of the command
    book: BookPath,
    formats: Annotated[
        list[Format] | None,
        typer.Option("--format", help="what to write; give it again for more (default: package)"),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="folder (default: beside the book)")
    ] = None,
    drawing: Annotated[
        Kind, typer.Option("--drawing", help="which plan SVG and PNG show")
    ] = "levels",
    dpi: Annotated[int, typer.Option("--dpi", help="dots to the inch of a PNG")] = 200,
    criteria: Criteria = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
) -> int:
    """Write files for others: the engineer's package, workbook, drawings, survey file."""
    sets = inputs.criteria_sets(criteria or ())
    document, seal = inputs.read_sealed(book)
    from levelbook.exchange.making import Order
    from levelbook.findings.assessment import assess

    result = assess(document, criteria=sets)
    folder = out or beside(book, "").parent
    stem = beside(book, "").name
    photos = inputs.photos(document, beside(book, "").parent)
    order = Order(drawing, dpi, photos, seal)
    files: dict[str, bytes] = {}
    for each in dict.fromkeys(formats or [Format.PACKAGE]):
        files |= _made(result, each, stem, order)
    for name in files:
        if (folder / name).exists() and not overwrite:
            place = str(folder / name)
            raise UsageError(place, "there is such a file", "choose another --out, or --overwrite")
    written = outputs.save(folder, files)
    if as_json:
        outputs.emit({"files": [str(path) for path in written]})
    else:
        for path in written:
            typer.echo(f"{path}")
    return GOOD


def _made(result: "Assessment", wanted: Format, stem: str, order: "Order") -> dict[str, bytes]:
    """Return the files of a format by their names; the tables are two."""
    from levelbook.exchange.making import FORMATS

    names = ("readings.csv", "levels.csv") if wanted is Format.CSV else (wanted.value,)
    made = [FORMATS[name] for name in names]
    return {each.name(stem, order): each.make(result, order) for each in made}
