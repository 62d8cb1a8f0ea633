"""Commands for the visit after this one: an empty book, a sheet to take along, a reminder."""

from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Annotated

import typer

from levelbook.cli import inputs, outputs
from levelbook.cli.options import BookPath, Overwrite
from levelbook.errors import UsageError

GOOD = 0

File = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="the file to write (default: beside the book)"),
]


def put(given: Path | None, usual: Path, content: bytes, *, overwrite: bool) -> Path:
    """Write one file where it was asked for, or else in its usual place.

    Raises
    ------
    UsageError
        If there is such a file and it may not be replaced, or it cannot be written.
    """
    target = given or usual
    if target.exists() and not overwrite:
        raise UsageError(str(target), "there is such a file", "choose another --out")
    return outputs.save(target.parent, {target.name: content})[0]


def beside(book: str, ending: str) -> Path:
    """Return the usual place of a file made from a book: its name with another ending."""
    if book == inputs.STDIN:
        return Path(f"book{ending}")
    return Path(book).with_name(Path(book).stem + ending)


def again(
    book: BookPath,
    day: Annotated[
        str, typer.Option("--date", metavar="DAY", help="day of the new visit, as 2027-03-02")
    ],
    out: File = None,
    overwrite: Overwrite = False,
) -> int:
    """Write an empty book for a repeat visit: the same plan and stations, nothing read yet."""
    from levelbook.archive.again import again as book_again
    from levelbook.book import write_book

    text = write_book(book_again(inputs.read(book), day))
    place = put(out, beside(book, f"-{day}.json"), text.encode(), overwrite=overwrite)
    typer.echo(f"{place}")
    return GOOD


def return_sheet(book: BookPath, out: File = None, overwrite: Overwrite = False) -> int:
    """Write the return sheet (PDF): plan, stations with their distances, room for a pen."""
    from levelbook.report.return_sheet import return_sheet as sheet

    document = inputs.read(book)
    content = sheet(document, photos=inputs.photos(document, Path(book).parent))
    place = put(out, beside(book, "-return-sheet.pdf"), content, overwrite=overwrite)
    typer.echo(f"{place}")
    return GOOD


def remind(  # noqa: PLR0913, PLR0917 - each is an option of the command
    book: BookPath,
    first_year: Annotated[
        str | None,
        typer.Option(
            "--first-year-date",
            metavar="DAY",
            help="end of the first year (default: one year after the visit)",
        ),
    ] = None,
    weeks: Annotated[
        int, typer.Option("--weeks", min=0, max=520, help="how many weeks before it to come")
    ] = 4,
    zone: Annotated[
        str, typer.Option("--zone", metavar="NAME", help="time zone of the house")
    ] = "America/Chicago",
    at: Annotated[
        str, typer.Option("--time", metavar="HH:MM", help="time of the day there")
    ] = "09:00",
    out: File = None,
    overwrite: Overwrite = False,
) -> int:
    """Write a calendar file (.ics) with the return visit."""
    from levelbook.archive.remind import Reminder, first_year_date
    from levelbook.archive.remind import remind as calendar

    document = inputs.read(book)
    end = first_year_date(document) if first_year is None else _day(first_year)
    reminder = Reminder(end, weeks, zone, _time(at))
    content = calendar(document, reminder, datetime.now(UTC).replace(microsecond=0))
    place = put(out, beside(book, "-return.ics"), content, overwrite=overwrite)
    typer.echo(f"{place}")
    typer.echo(f"return visit {reminder.start:%Y-%m-%d %H:%M} {zone}, first-year date {end}")
    if first_year is None:
        typer.echo("The first-year date is one year after the visit; the warranty's terms govern.")
    return GOOD


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        problem = f"{text[:40]!r} is not a day"
        raise UsageError("--first-year-date", problem, "write it as 2027-03-02") from None


def _time(text: str) -> time:
    try:
        found = time.fromisoformat(text)
    except ValueError:
        found = None
    if found is None or found.tzinfo is not None:
        raise UsageError("--time", f"{text[:40]!r} is not a time", "write it as 09:00")
    return found
