"""The level-book document ``levelbook/1`` as frozen values, key for key.

Lengths in plan units, readings as written (strings), coordinates x to the right and y up
the sheet. Nothing here is computed from anything else.
"""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict

Point = tuple[float, float]
Line = tuple[Point, Point]
Extra = dict[str, Any]


class Record(BaseModel):
    """Base of every object in the document: frozen, unknown keys refused, ``extra`` kept."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    extra: Extra | None = None


class Units(Record):
    """Level unit (readings, widths) and plan unit (coordinates, lengths)."""

    level: Literal["in", "mm"]
    plan: Literal["ft", "m"]


class Property(Record):
    """The house."""

    label: str
    address: str | None = None
    foundation: (
        Literal["slab-on-ground", "pier-and-beam", "crawl-space", "basement", "other"] | None
    ) = None
    post_tensioned: bool | None = None
    year_built: int | None = None
    north: float | None = None
    notes: str | None = None


class Visit(Record):
    """One visit; ``date`` is an ISO 8601 date."""

    date: str
    purpose: Literal["baseline", "condition", "repeat"] | None = None
    surveyor: str | None = None
    licence: str | None = None
    firm: str | None = None
    weather: str | None = None
    notes: str | None = None


class InstrumentCheck(Record):
    """A known height step and what the instrument read, level units as written."""

    date: str
    known: str
    read: str


class Instrument(Record):
    """A level instrument; ``sd`` is one reading's standard deviation before rounding."""

    id: str
    kind: Literal["hydrostatic", "water-level", "laser-and-rod", "optical-level", "other"]
    higher_reads: Literal["more", "less"]
    resolution: float
    sd: float
    reach: float | None = None
    serial: str | None = None
    checks: tuple[InstrumentCheck, ...] = ()

    @property
    def sense(self) -> int:
        """+1 where a higher floor reads more, -1 where it reads less."""
        return 1 if self.higher_reads == "more" else -1

    @property
    def variance(self) -> float:
        """Variance of one written reading: ``sd² + resolution²/12``, level units squared."""
        return self.sd**2 + self.resolution**2 / 12


class Area(Record):
    """One continuous floor; the outline is not closed."""

    id: str
    kind: Literal["living", "garage", "addition", "porch", "other"]
    outline: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()
    vehicle_door: Line | None = None


class Mark(Record):
    """A thing drawn on the plan: door, water heater, drain, tree, …."""

    kind: str
    at: Point
    label: str | None = None


class Finish(Record):
    """What is underfoot; one unknown height above the common floor plane."""

    id: str
    name: str


class Setup(Record):
    """One zeroing of an instrument; one unknown constant."""

    id: str
    instrument: str
    base: Point | None = None


class Station(Record):
    """A place that was read."""

    id: str
    at: Point
    area: str
    note: str | None = None
    moved: str | None = None


class Reading(Record):
    """One reading as written; struck readings stay."""

    id: str
    setup: str
    station: str
    finish: str
    value: str
    time: str | None = None
    struck: bool = False
    instead: str | None = None
    note: str | None = None


class Section(Record):
    """A line to draw a profile along."""

    id: str
    line: Line


class Reference(Record):
    """The station at level 0 and the finish that levels are referred to."""

    station: str
    finish: str | None = None


class Distress(Record):
    """A visible sign, at a place or along a line; ``width`` in level units as written."""

    id: str
    kind: Literal[
        "crack",
        "separation",
        "door-binding",
        "door-out-of-square",
        "slope-felt",
        "repair-seen",
        "other",
    ]
    element: Literal[
        "drywall",
        "ceiling",
        "brick-veneer",
        "slab",
        "tile",
        "trim",
        "exterior-grade-beam",
        "other",
    ]
    at: Point | None = None
    line: tuple[Point, ...] | None = None
    width: str | None = None
    side: Literal["inside", "outside"] | None = None
    age: Literal["fresh", "old", "repaired", "unknown"] | None = None
    note: str | None = None
    photo: str | None = None


class Photo(Record):
    """A photograph, by hash."""

    id: str
    sha256: str
    name: str
    of: str | None = None


class Book(Record):
    """One visit to one property: everything written down, and nothing computed."""

    format: Literal["levelbook/1"]
    units: Units
    property: Property
    visit: Visit
    instruments: tuple[Instrument, ...]
    areas: tuple[Area, ...]
    walls: tuple[tuple[Point, ...], ...] = ()
    marks: tuple[Mark, ...] = ()
    finishes: tuple[Finish, ...]
    setups: tuple[Setup, ...]
    stations: tuple[Station, ...]
    readings: tuple[Reading, ...]
    sections: tuple[Section, ...] = ()
    reference: Reference
    distress: tuple[Distress, ...] = ()
    photos: tuple[Photo, ...] = ()
