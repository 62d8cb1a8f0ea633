"""The return sheet: what to take along to read the same places again, with room for a pen.

One page with the plan and who, where and with what; one with the stations and empty cells.
The earlier readings are left out on purpose: who reads should not know what was read.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from math import ceil

from levelbook.book import digest
from levelbook.book.model import Book, Reading
from levelbook.drawing import to_svg
from levelbook.drawing.metrics import shorten, wrap
from levelbook.drawing.return_sheet import numbers, return_plan
from levelbook.drawing.tape import Measured, Tape, tape
from levelbook.report.contents import shortened
from levelbook.report.figures import NBSP, grouped
from levelbook.report.labels import Labels, load_labels
from levelbook.report.pdf import RETURN, Image, Json, press, screened, stamp
from levelbook.report.sections.record import photo_kind

PLAN = "plan.svg"
HEAD_ROW = 7.0
KEY_ROW, NOTE_HEAD = 7.0, 9.0
NOTE_LINE, NOTE_SIZE, NOTES_MOST = 4.2, 3.0, 60.0
ROWS = ((1, 8.2), (2, 7.4), (3, 6.4), (4, 5.3))
"""Columns of stations, and the least height of a row in millimetres that they are given."""
TALLEST = 9.5


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet of paper: its name, the room between its margins and the room for the plan."""

    name: str
    width: float
    height: float
    plan: float


PAPERS = {
    "ft": Paper("us-letter", 191.9, 249.0, 186.0),
    "m": Paper("a4", 186.0, 266.0, 203.0),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the table: a station on one finish."""

    number: str
    id: str
    corners: tuple[str, str]
    finish: str


def return_sheet(
    book: Book, *, photos: Mapping[str, bytes] | None = None, language: str = "en"
) -> bytes:
    """Return the return sheet of a visit as a PDF, Letter for feet and A4 for metres.

    ``photos`` are photographs by SHA-256 in lower case; those of stations are shown on a page
    of their own, but for one that is altered or cannot be shown: its name stands in the notes.

    Raises
    ------
    TypesettingError
        If the PDF cannot be set.
    """
    label, measured, paper = load_labels(language), tape(book), PAPERS[book.units.plan]
    plan = return_plan(book, measured, width_mm=paper.width, height_mm=paper.plan)
    shots = list(pictures(book, photos or {}))
    rows, notes = list(lines(book, measured, label)), list(remarks(book, label))
    data: dict[str, Json] = {
        "language": language,
        "paper": paper.name,
        "title": label("return.title", label=shortened(book.property.label)),
        "kicker": label("return.kicker"),
        "foot": label(
            "return.foot",
            label=shortened(book.property.label),
            date=book.visit.date,
            digest=grouped(digest(book)),
        ),
        "paging": label("page.paging", page="{page}", pages="{pages}"),
        "facts": [list(fact) for fact in facts(book, label)],
        "blanks": [label(f"return.{name}") for name in ("day", "who", "what", "sky")],
        "plan": {"file": PLAN, "alt": plan.description},
        "heads": [
            label(f"return.{name}") for name in ("station", "one", "other", "finish", "reading")
        ],
        "key": label("return.key", told=" · ".join(f"{k} {n}" for k, n in _key(book))),
        "notes_title": label("return.notes"),
        "notes": list(notes),
        "photos": [{"file": image.file, "told": told} for told, image in shots],
        **_shared(rows, notes, paper, label),
    }
    svg = to_svg(plan, printable=True).encode()
    loose = {PLAN: svg} | {image.file: image.content for _, image in shots}
    return press().print(screened(data), loose, stamp(book.visit.date), RETURN)


def pictures(book: Book, photos: Mapping[str, bytes]) -> Iterator[tuple[str, Image]]:
    """Yield the photographs of stations that can be shown, each under its station's number."""
    called = numbers(book)
    for n, photo in enumerate(p for p in book.photos if p.of in called):
        content = photos.get(photo.sha256.lower(), b"")
        kind = photo_kind(content)
        if kind is None or sha256(content).hexdigest() != photo.sha256.lower():
            continue
        image = Image(f"photo-{n}.{kind}", content)
        if press().shows(image):
            yield called[photo.of or ""], image


def facts(book: Book, label: Labels) -> Iterator[tuple[str, str]]:
    """Yield what the earlier visit was: when, its zero, its instruments, their places."""
    visit = book.visit
    yield label("return.earlier"), ", ".join(filter(None, (visit.date, visit.surveyor)))
    yield label("return.zero"), _zero(book, label)
    for instrument in book.instruments:
        told = label(
            "return.instrument_is",
            kind=label.of("instrument", instrument.kind),
            resolution=f"{instrument.resolution:g}",
            unit=book.units.level,
        )
        if instrument.serial:
            told = label("return.serial", told=told, serial=instrument.serial)
        yield label("return.instrument"), told
    bases = [setup.id for setup in book.setups if setup.base is not None]
    if bases:
        yield label("return.bases"), label("return.marked", setups=", ".join(bases))
    yield label("return.how"), label("return.measure")


def _zero(book: Book, label: Labels) -> str:
    reference, called = book.reference, numbers(book)
    valid = [r.finish for r in book.readings if r.station == reference.station and not r.struck]
    finish = reference.finish if reference.finish in valid else next(iter(valid), reference.finish)
    names = {each.id: each.name for each in book.finishes}
    if finish is None:
        return label("return.zero_at", station=called[reference.station])
    return label("return.zero_on", station=called[reference.station], finish=names[finish])


def lines(book: Book, measured: Tape, label: Labels) -> Iterator[Line]:
    """Yield the lines of the table: every station on every finish that it was read on."""
    called, keys = numbers(book), dict(_key_by_id(book))
    read = _read(book)
    for station in book.stations:
        corners = [_told(book, m, label) for m in measured.distances.get(station.id, ())]
        first, second = (*corners, "", "")[:2]
        number = called[station.id]
        own = "" if number == station.id else station.id
        for finish in dict.fromkeys(r.finish for r in read.get(station.id, ())) or (None,):
            yield Line(number, own, (first, second), keys[finish] if finish else "")


def _read(book: Book) -> Mapping[str, Sequence[Reading]]:
    """Return the readings in use by station."""
    found: dict[str, list[Reading]] = {}
    for reading in book.readings:
        if not reading.struck:
            found.setdefault(reading.station, []).append(reading)
    return found


def _told(book: Book, measured: Measured, label: Labels) -> str:
    """Return a distance to a corner as a tape shows it."""
    if book.units.plan == "m":
        told = f"{measured.distance:.2f}"
    else:
        feet, inches = divmod(round(measured.distance * 12), 12)
        told = f"{feet}'{inches}\""
    near = measured.distance < (0.04 if book.units.plan == "ft" else 0.01)
    return (
        label("return.here", corner=measured.corner) if near else f"{measured.corner}{NBSP}{told}"
    )


def _key_by_id(book: Book) -> Iterator[tuple[str, str]]:
    """Yield for each finish the short sign that stands for it in the table."""
    names = [finish.name.strip().casefold() for finish in book.finishes]
    for number, (finish, name) in enumerate(zip(book.finishes, names, strict=True), 1):
        prefixes = (name[:k] for k in (1, 2, 3) if name[:k].isalpha())
        alone = (p for p in prefixes if sum(n.startswith(p) for n in names) == 1)
        yield finish.id, next(alone, str(number)).capitalize()


def _key(book: Book) -> list[tuple[str, str]]:
    signs = dict(_key_by_id(book))
    return [(signs[finish.id], finish.name) for finish in book.finishes]


def remarks(book: Book, label: Labels) -> Iterator[str]:
    """Yield what else to know of stations: ties, closing checks, places, photographs."""
    called, read = numbers(book), _read(book)
    ties: dict[str, list[str]] = {}
    again: list[str] = []
    for name, here in read.items():
        setups = ", ".join(dict.fromkeys(reading.setup for reading in here))
        if "," in setups:
            ties.setdefault(setups, []).append(called[name])
        if len({(reading.setup, reading.finish) for reading in here}) < len(here):
            again.append(called[name])
    if again:
        yield label("return.again", stations=", ".join(again))
    for setups, tied in ties.items():
        yield label("return.ties", setups=setups, stations=", ".join(tied))
    photos = {photo.of: photo.name for photo in book.photos if photo.of}
    for station in book.stations:
        name = called[station.id]
        if station.moved:
            yield label("return.moved", station=name, why=station.moved)
        if station.note:
            yield label("return.note", station=name, note=station.note)
        if station.id in photos:
            yield label("return.photo", station=name, name=photos[station.id])


def _shared(
    rows: Sequence[Line], notes: Sequence[str], paper: Paper, label: Labels
) -> dict[str, Json]:
    """Return how the lines are shared among columns and pages, and how high each is."""
    told = sum(len(wrap(note, NOTE_SIZE, paper.width)) for note in notes)
    room = paper.height - KEY_ROW - min(NOTES_MOST, NOTE_LINE * told + NOTE_HEAD if told else 0.0)
    for columns, least in ROWS:
        each = int((room - HEAD_ROW) // least)
        if columns * each >= len(rows) or columns == ROWS[-1][0]:
            break
    pages = max(1, ceil(len(rows) / (columns * each)))
    each = ceil(len(rows) / (columns * pages))
    parts = [rows[k : k + each] for k in range(0, len(rows), each)]
    shown: list[Json] = [
        {
            "caption": label("return.table_part", n=n) if len(parts) > 1 else label("return.table"),
            "rows": [_cells(line) for line in part],
        }
        for n, part in enumerate(parts, 1)
    ]
    return {
        "columns": columns,
        "height": min(TALLEST, (room - HEAD_ROW) / each),
        "parts": [shown[k : k + columns] for k in range(0, len(shown), columns)],
    }


def _cells(line: Line) -> Json:
    return [line.number, shorten(line.id, 2.0, 9.0), *line.corners, line.finish]
