"""The level-book document ``levelbook/1`` as frozen values, key for key.

Lengths in plan units, readings as written (strings), coordinates x to the right and y up
the sheet. Nothing here is computed from anything else. The sentences below the fields are
the descriptions in the published JSON Schema.
"""

from typing import Literal

from pydantic import BaseModel, ConfigDict

from levelbook.book.fields import (
    Extra,
    Flag,
    Id,
    Line,
    Note,
    Number,
    Point,
    Size,
    Text,
    Whole,
    Written,
)

__all__ = ["Extra", "Line", "Point"]


class Record(BaseModel):
    """Base of every object in the document: frozen, unknown keys refused, ``extra`` kept."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, use_attribute_docstrings=True
    )

    extra: Extra | None = None
    """Anything of your own; kept as it is, and not looked at."""

    def __hash__(self) -> int:
        """Hash the fields but ``extra``, which may hold what cannot be hashed."""
        return hash(tuple(value for name, value in self if name != "extra"))


class Units(Record):
    """Level unit (readings, widths) and plan unit (coordinates, lengths)."""

    level: Literal["in", "mm"]
    """Unit of readings, resolutions, standard deviations and crack widths."""
    plan: Literal["ft", "m"]
    """Unit of coordinates and lengths on the plan."""


class Property(Record):
    """The house."""

    label: Text
    """Short name of the house, as on the report."""
    address: Text | None = None
    """Postal address."""
    foundation: (
        Literal["slab-on-ground", "pier-and-beam", "crawl-space", "basement", "other"] | None
    ) = None
    """What the floor stands on."""
    post_tensioned: Flag | None = None
    """Whether the slab is post-tensioned, where known."""
    year_built: Whole | None = None
    """Year the house was built."""
    north: Number | None = None
    """Direction of north, degrees clockwise from up the sheet."""
    notes: Note | None = None
    """Remarks on the house."""


class Visit(Record):
    """One visit."""

    date: Text
    """Day of the visit, ISO 8601, as 2026-03-02."""
    purpose: Literal["baseline", "condition", "repeat"] | None = None
    """First survey to compare with later, a look at the condition, or a survey again."""
    surveyor: Text | None = None
    """Who took the readings."""
    licence: Text | None = None
    """Licence or registration of the surveyor."""
    firm: Text | None = None
    """Firm of the surveyor."""
    weather: Text | None = None
    """Weather of the day and, better, of the weeks before."""
    notes: Note | None = None
    """Remarks on the visit."""


class InstrumentCheck(Record):
    """A known height step and what the instrument read."""

    date: Text
    """Day of the check, ISO 8601."""
    known: Written
    """Height of the known step, level units as written."""
    read: Written
    """What the instrument read for the step, level units as written."""


class Instrument(Record):
    """A level instrument."""

    id: Id
    """Name that setups use."""
    kind: Literal["hydrostatic", "water-level", "laser-and-rod", "optical-level", "other"]
    """How the instrument works."""
    higher_reads: Literal["more", "less"]
    """Whether a higher floor gives a larger reading or, as on a rod, a smaller one."""
    resolution: Size
    """Smallest step of a reading, level units; 0 where readings are not rounded."""
    sd: Size
    """Standard deviation of one reading before rounding, level units."""
    reach: Size | None = None
    """How far from its base it can read, plan units."""
    serial: Text | None = None
    """Serial number."""
    checks: tuple[InstrumentCheck, ...] = ()
    """Checks against a known height step."""

    @property
    def sense(self) -> int:
        """+1 where a higher floor reads more, -1 where it reads less."""
        return 1 if self.higher_reads == "more" else -1

    @property
    def variance(self) -> float:
        """Variance of one written reading: ``sd² + resolution²/12``, level units squared."""
        return self.sd**2 + self.resolution**2 / 12


class Area(Record):
    """One continuous floor; nothing is carried over from one area into another."""

    id: Id
    """Name that stations use."""
    kind: Literal["living", "garage", "addition", "porch", "other"]
    """What the floor is used for."""
    outline: tuple[Point, ...]
    """Corners in order round the floor; the last joins the first and is not repeated."""
    holes: tuple[tuple[Point, ...], ...] = ()
    """Outlines of parts inside that are not this floor."""
    vehicle_door: Line | None = None
    """Ends of the vehicle doorway of a garage, on its outline."""


class Mark(Record):
    """A thing drawn on the plan."""

    kind: Text
    """What it is: front-door, door, water-heater, drain, column, tree, downspout, note, …."""
    at: Point
    """Where it is."""
    label: Text | None = None
    """Words beside it."""


class Finish(Record):
    """What is underfoot; one unknown height above the common floor plane."""

    id: Id
    """Name that readings use."""
    name: Text
    """What it is: tile, carpet, bare concrete, a built step down, …."""


class Setup(Record):
    """One zeroing of an instrument; one unknown constant."""

    id: Id
    """Name that readings use."""
    instrument: Id
    """Id of the instrument."""
    base: Point | None = None
    """Where the base of the instrument stood."""


class Station(Record):
    """A place that was read."""

    id: Id
    """Name that readings use."""
    at: Point
    """Where it is."""
    area: Id
    """Id of the area whose floor it stands on."""
    note: Note | None = None
    """Remark on the place."""
    moved: Text | None = None
    """Why it is not where it should be: a bed, a cabinet, …."""


class Reading(Record):
    """One reading as written; struck readings stay."""

    id: Id
    """Name that other readings and results use."""
    setup: Id
    """Id of the setup it was read from."""
    station: Id
    """Id of the station it was read at."""
    finish: Id
    """Id of the finish underfoot."""
    value: Written
    """The reading as written: a decimal, a fraction or a mixed number, level units."""
    time: Text | None = None
    """Day and time, or time of the day of the visit, ISO 8601."""
    struck: Flag = False
    """Whether the reading was struck out; it is kept, and takes no part in any computation."""
    instead: Id | None = None
    """Id of the reading that replaces this struck one."""
    note: Note | None = None
    """Remark on the reading."""


class Section(Record):
    """A line to draw a profile along."""

    id: Id
    """Name of the section."""
    line: Line
    """Its two ends."""


class Grade(Record):
    """The fall of the ground outside, read beside a wall and away from it from one setup."""

    id: Id
    """Name that results use."""
    setup: Id
    """Id of the setup that both ends were read from."""
    at: Point
    """Where it was read beside the wall."""
    out: Point | None = None
    """Where it was read away from the wall."""
    distance: Size | None = None
    """How far from the wall, plan units, where the place is not drawn; straight out then."""
    near: Written
    """The reading beside the wall as written, level units."""
    far: Written
    """The reading away from the wall as written, level units."""
    surface: Literal["soil", "paved", "swale"] = "soil"
    """What the ground is: open soil, an impervious surface, or the bed of a swale."""
    struck: Flag = False
    """Whether the pair was struck out; it is kept, and takes no part in any computation."""
    instead: Id | None = None
    """Id of the pair that replaces this struck one."""
    note: Note | None = None
    """Remark on the place."""


class Reference(Record):
    """What levels are referred to."""

    station: Id
    """Id of the station at level 0."""
    finish: Id | None = None
    """Id of the finish at height 0; without it, that of the first reading at the station."""


class Distress(Record):
    """A visible sign, at a place or along a line."""

    id: Id
    """Name of the sign."""
    kind: Literal[
        "crack",
        "separation",
        "door-binding",
        "door-out-of-square",
        "slope-felt",
        "repair-seen",
        "other",
    ]
    """What was seen or felt."""
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
    """The part of the house that shows it."""
    at: Point | None = None
    """Where it is."""
    line: tuple[Point, ...] | None = None
    """The line that it follows."""
    width: Written | None = None
    """Width of a crack or gap, level units as written."""
    side: Literal["inside", "outside"] | None = None
    """Which side of the wall it is on."""
    age: Literal["fresh", "old", "repaired", "unknown"] | None = None
    """How old it looks."""
    note: Note | None = None
    """Remark on the sign."""
    photo: Id | None = None
    """Id of a photograph of it."""


class Photo(Record):
    """A photograph, kept apart and known by its hash."""

    id: Id
    """Name that signs of distress use."""
    sha256: Text
    """SHA-256 of the file, 64 hexadecimal digits."""
    name: Text
    """Name of the file."""
    of: Text | None = None
    """What it shows, in words or by an id of this document."""


class Book(Record):
    """One visit to one property: everything written down, and nothing computed."""

    format: Literal["levelbook/1"]
    """Name and version of this format."""
    units: Units
    """Units of the document."""
    property: Property
    """The house."""
    visit: Visit
    """The visit."""
    instruments: tuple[Instrument, ...]
    """Level instruments used."""
    areas: tuple[Area, ...]
    """Floors, each continuous in itself."""
    walls: tuple[tuple[Point, ...], ...] = ()
    """Walls to draw, each a line through its points."""
    marks: tuple[Mark, ...] = ()
    """Things to draw; a water heater and drains also serve the drainage of a garage."""
    finishes: tuple[Finish, ...]
    """What is underfoot."""
    setups: tuple[Setup, ...]
    """Zeroings of the instruments."""
    stations: tuple[Station, ...]
    """Places that were read."""
    readings: tuple[Reading, ...]
    """Readings in the order they were written."""
    sections: tuple[Section, ...] = ()
    """Lines to draw a profile along."""
    grades: tuple[Grade, ...] = ()
    """Falls of the ground outside, away from the walls."""
    reference: Reference
    """What levels are referred to."""
    distress: tuple[Distress, ...] = ()
    """Visible signs."""
    photos: tuple[Photo, ...] = ()
    """Photographs."""
