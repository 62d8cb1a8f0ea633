"""What is said about movement between two visits: typed, frozen, in the earlier visit's units."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from levelbook.book.model import Book
from levelbook.floor.model import Profile
from levelbook.floor.surface import Surface
from levelbook.levels.model import Levels

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Match:
    """One station seen on both visits; ``apart`` is the distance between its two places."""

    earlier: str
    later: str
    by: Literal["id", "place"]
    apart: float


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """An id that stands at another place on the later visit, ``apart`` plan units away."""

    station: str
    apart: float


@dataclass(frozen=True, slots=True)
class Matching:
    """Matched stations, those left over, and ids found at another place (earlier visit's ids)."""

    pairs: tuple[Match, ...]
    tolerance: float
    place_tolerance: float
    only_earlier: tuple[str, ...]
    only_later: tuple[str, ...]
    elsewhere: tuple[Elsewhere, ...]


@dataclass(frozen=True)
class Visit:
    """One visit: what was written down, and its adjusted levels."""

    book: Book
    levels: Levels


@dataclass(frozen=True)
class Differences:
    """Later minus earlier level of each matched station.

    ``d`` (m,) and ``covariance`` (m, m) in the earlier visit's level unit; ``block`` (m,)
    numbers the pairs of groups: each block has a shift of its own that no reading tells.
    """

    pairs: tuple[Match, ...]
    d: Array
    covariance: Array
    block: NDArray[np.intp]

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """The stations' ids on the earlier visit."""
        return tuple(pair.earlier for pair in self.pairs)

    @cached_property
    def index(self) -> Mapping[str, int]:
        """Position of each station (earlier id) in the arrays."""
        return {station: i for i, station in enumerate(self.ids)}

    @cached_property
    def blocks(self) -> Array:
        """The design (m, b) of the blocks' shifts: 1 where a station is of the block."""
        return np.equal.outer(self.block, np.unique(self.block)).astype(float)


@dataclass(frozen=True, slots=True)
class Variance:
    """Variance factor of the readings; ``dof`` is ``None`` for the a-priori factor 1."""

    factor: float = 1.0
    dof: int | None = None


@dataclass(frozen=True, slots=True)
class Congruence:
    """Global test that nothing moved but the zero: ``statistic`` against ``limit`` (5 %).

    ``None`` where a block has too few stations to contradict one another.
    """

    statistic: float | None
    rank: int
    limit: float | None
    p: float | None
    moved: bool | None
    variance: float
    variance_dof: int | None


@dataclass(frozen=True, slots=True)
class Shift:
    """What the later zero stands above the earlier one, in one block of stations.

    ``robust`` is the weighted median difference, the second opinion; ``agree`` tells whether
    the two lie within three standard deviations of their difference.
    """

    groups: tuple[str, str]
    value: float
    sd: float
    robust: float
    agree: bool


@dataclass(frozen=True)
class Datum:
    """The stations that hold the visits together, and the shift of each block on them.

    ``majority`` is false where fewer than half of a block's stations are left to hold it, so
    that another part of the floor could as well be the one that stood still. ``rest`` tests
    the stations that were kept.
    """

    stations: tuple[str, ...]
    removed: tuple[str, ...]
    how: Literal["all agree", "worst freed until the rest agree", "held as chosen"]
    shift: tuple[Shift, ...]
    majority: bool
    rest: Congruence

    @property
    def agree(self) -> bool:
        """Whether the second opinion agrees in every block."""
        return all(each.agree for each in self.shift)


@dataclass(frozen=True, slots=True)
class StationMovement:
    """Movement of one station on the datum; ``significant`` allows for the many tests.

    ``None`` where nothing else holds the station: it is alone in its block or in the datum.
    """

    moved: float | None
    sd: float | None
    least_detectable: float | None
    p: float | None
    significant: bool
    in_datum: bool


@dataclass(frozen=True)
class Movements:
    """Movement of all matched stations: ``value`` (m,) and its full ``covariance`` (m, m)."""

    stations: Mapping[str, StationMovement]
    value: Array
    covariance: Array


@dataclass(frozen=True, slots=True)
class Change:
    """A change that no choice of zero touches."""

    value: float
    sd: float
    significant: bool


@dataclass(frozen=True, slots=True)
class TiltChange:
    """Change of tilt: a vector (uphill, rise over run), its length, and its sd.

    ``covariance`` is that of x and y, row by row; ``p`` is that of no change at all
    (chi-square, 2 degrees of freedom), and ``significant`` asks that the length stand out as
    well; ``direction`` points to where the floor has gone down,
    degrees clockwise from up the sheet.
    """

    value: float
    sd: float
    significant: bool
    x: float
    y: float
    covariance: tuple[tuple[float, float], tuple[float, float]]
    p: float
    direction: float | None


@dataclass(frozen=True, slots=True)
class DeflectionChange:
    """Deflection of the movement itself along a line, + where its middle has risen (hog)."""

    value: float
    sd: float
    significant: bool
    line: tuple[tuple[float, float], tuple[float, float]]
    length: float
    source: str


@dataclass(frozen=True)
class AreaChange:
    """What changed in the shape of one area; ``None`` where it cannot be told.

    ``stations`` counts the matched stations that it is told from.
    """

    area: str
    stations: int
    tilt: TiltChange | None
    deflection: DeflectionChange | None
    range: Change | None
    surface: Surface | None


@dataclass(frozen=True)
class SectionChange:
    """A section's profile on both visits (where both have one), and the movement along it."""

    section: str
    area: str
    change: DeflectionChange
    movement: Profile


@dataclass(frozen=True, slots=True)
class Caveat:
    """One thing that these visits cannot tell: a key of the wording and what fills it in."""

    key: str
    values: Mapping[str, str]


@dataclass(frozen=True)
class Comparison:
    """Everything that two visits say about movement, in the earlier visit's units."""

    earlier: Visit
    later: Visit
    matching: Matching
    differences: Differences
    congruence: Congruence
    datum: Datum
    movements: Movements
    main: str
    areas: Mapping[str, AreaChange]
    sections: Mapping[str, SectionChange]
    caveats: tuple[Caveat, ...]
