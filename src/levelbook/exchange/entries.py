"""What an import has read so far: one entry a reading, with the row that it came from."""

from dataclasses import dataclass, replace
from fractions import Fraction

from levelbook.exchange.cells import Typed, Unit, convert, written

Spot = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Place:
    """A station as a table tells it; ``at`` in the plan unit of the book to be."""

    id: str
    at: Spot | None
    area: str | None = None
    note: str | None = None
    moved: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """A reading as a table tells it; ``place`` says where it stood there."""

    place: str
    station: str
    typed: Typed
    cell: str
    id: str | None = None
    setup: str | None = None
    finish: str | None = None
    time: str | None = None
    note: str | None = None
    struck: bool = False
    instead: str | None = None
    by_next: bool = False
    """Whether it is struck and the entry after it stands in its place."""
    signed: float | None = None


@dataclass(frozen=True, slots=True)
class Survey:
    """Everything read from one file: places and readings, and which units they are in."""

    places: tuple[Place, ...]
    entries: tuple[Entry, ...]
    level: Unit | None
    """Unit of the readings that tell none themselves."""
    plan: Unit | None
    """Unit of the places."""
    sense: str | None = None
    """``more`` or ``less`` where the table tells it."""
    own: bool = False
    """Whether this program wrote the table: then names are meant letter for letter."""


def in_unit(entry: Entry, bare: Unit | None, unit: Unit) -> Entry:
    """Return an entry with its number in the book's level unit; what was typed goes in its note.

    A number that is in that unit already stays as it was typed.
    """
    typed, own = entry.typed, entry.typed.unit or bare or unit
    if own == unit:
        said = None if typed.text.strip() in entry.cell else entry.cell.strip()
    else:
        value = convert(typed.value, own, unit)
        typed = replace(typed, text=written(value), value=value)
        said = f"{entry.cell.strip()} {'' if entry.typed.unit else own}".strip()
    note = "; ".join(filter(None, (entry.note, said and f"typed as {said}")))
    return replace(entry, typed=typed, note=note or None)


def step_of(entries: tuple[Entry, ...], bare: Unit | None, unit: Unit) -> Fraction:
    """Return the finest step among readings as typed, in the book's level unit; 0 where none.

    ``0.30`` has the step 0.01 and ``5/8`` the step 1/8.
    """
    units = [entry.typed.unit or bare or unit for entry in entries]
    found = [
        convert(_step(entry.typed.text), own, unit)
        for entry, own in zip(entries, units, strict=True)
    ]
    finest = min(found, default=Fraction(0))
    return finest if finest >= Fraction(1, 10_000) else Fraction(0)


def _step(text: str) -> Fraction:
    if "/" in text:
        return Fraction(1, int(text.rpartition("/")[2]))
    return Fraction(1, 10 ** len(text.strip().partition(".")[2]))
