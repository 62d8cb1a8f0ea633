"""The garage floor: whether water would run out of the vehicle door, stand, or run to the house.

The fitted surface is laid on a grid whose walls hold water and whose vehicle door and floor
drains let it out (:mod:`levelbook.floor.basin`). How sure the shares and ways are comes from
floors drawn from the surface's posterior with a fixed seed, each routed the same way.

For the flow the surface's amplitude is widened by ``WIDER``: a hollow is the least typical
place of its floor, and an amplitude learnt from the whole floor draws it in. The factor was
set on simulated garages so that intervals of depth hold the truth (tests/floor).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from scipy.linalg import cholesky

from levelbook.book.model import Area, Book
from levelbook.book.units import convert, rise_per_run
from levelbook.floor.basin import Basin, Flow, make_basin, run_water, shares
from levelbook.floor.doorway import Fall, doorway, fall_to_door
from levelbook.floor.low_spots import LowSpot, find_low_spots
from levelbook.floor.model import Array, Point, Tilt
from levelbook.floor.surface import Surface

Verdict = Literal["drains", "flat", "negative slope", "ponds", "too close to call"]
End = Literal["door", "drain", "wall", "low spot"]

DRAWS, SEED = 160, 20_080_101
FINE, COARSE = 3_600, 256  # cells of the best surface, and of each drawn floor
WIDER = 1.6
FILM_IN = 1 / 16
"""Depth (in) that a floor holds as a film; shallower low spots are passed over. Our choice."""

FLAT_IN = 1 / 4
"""A fall (in) surely smaller than this, either way, is called flat. Our choice."""

RELIEF_IN = 1 / 2
"""Highest less lowest place (in) that a floor called flat surely stays below. Our choice."""

SURE = 1.645
"""An arrow downhill is drawn where the fall along it is more than this many sds (95 %)."""

NAMED = 2.576  # sds: the fall's direction decides the word where its 99 % interval tells it
HELD = 1.96  # sds: as every other interval
MOST, OFTEN = 0.9, 0.95  # of the floor's area, and of the drawn floors. Our choice


@dataclass(frozen=True, slots=True)
class Trail:
    """Water let go at a place: its way over the best surface and where it ends.

    ``probability`` is the share of drawn floors on which it leaves by the door,
    ``probability_drain`` by a floor drain.
    """

    start: Point
    label: str
    path: tuple[Point, ...]
    end: End
    reaches_door: bool
    probability: float
    probability_drain: float

    @property
    def sure(self) -> bool:
        """Whether nine tenths of the drawn floors agree that the water leaves, or stays."""
        out = self.probability + self.probability_drain
        return max(out, 1.0 - out) >= MOST


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of the floor's area by where water let go there ends, 0 to 1; they add up to 1."""

    door: float
    drain: float
    wall: float
    stands: float


@dataclass(frozen=True)
class Garage:
    """One garage floor.

    ``fall`` is from the wall facing the door to the door, + to the door, and ``slope`` that
    fall over its length. ``toward`` is the direction downhill of the whole floor, degrees
    clockwise from up the sheet, ``resultant`` its slope. ``clear`` is the share of drawn floors
    that let at least nine tenths of their area out. ``shares_low`` and ``shares_high`` bound
    95 % of the drawn floors and the best surface. ``arrows`` (k, 4) are places and unit vectors
    downhill, for drawing; 0, 0 where it is not sure (95 %) that the floor falls that way.
    """

    area: str
    readings: int
    fall: Fall
    slope: float
    slope_sd: float
    toward: float | None
    resultant: float
    resultant_sd: float
    shares: Shares
    shares_sd: Shares
    shares_low: Shares
    shares_high: Shares
    clear: float
    low_spots: tuple[LowSpot, ...]
    trails: tuple[Trail, ...]
    drains: tuple[Point, ...]
    verdict: Verdict
    arrows: Array


def study_garage(
    book: Book,
    area: Area,
    surface: Surface,
    tilt: Tilt,
    points: Sequence[tuple[str, Point]] = (),
) -> Garage:
    """Study the floor of a garage with a vehicle door.

    ``tilt`` is the surface's own; ``points`` are named places to let water go from, after the
    water heaters in the garage. Deterministic: the draws have a fixed seed.
    """
    film = convert(FILM_IN, "in", book.units.level)
    heaters = [("water-heater", at) for at in marked(book, area, "water-heater")]
    drains = marked(book, area, "drain")
    way = doorway(area)
    loose = widened(surface)
    lab = _lab(loose, (make_basin(way, drains, FINE), make_basin(way, drains, COARSE)), film)
    drawn = shares(lab.coarse, lab.drawn)
    fall = fall_to_door(way, surface)
    spots = find_low_spots((lab.fine, lab.flow), (lab.coarse, lab.drawn), loose)
    clear = float((drawn[:, :2].sum(axis=1) >= MOST).mean())
    best = shares(lab.fine, lab.flow)[0]
    low, high = np.quantile(np.vstack([drawn, best]), (0.025, 0.975), axis=0)
    inch = convert(1.0, "in", book.units.level)
    level = _relief(loose, lab.coarse) < RELIEF_IN * inch
    scale = rise_per_run(book.units) / fall.depth
    return Garage(
        area=area.id,
        readings=len(surface.stations),
        fall=fall,
        slope=fall.value * scale,
        slope_sd=fall.sd * scale,
        toward=tilt.direction,
        resultant=tilt.slope,
        resultant_sd=tilt.sd,
        shares=_shares(best),
        shares_sd=_shares(drawn.std(axis=0)),
        shares_low=_shares(np.minimum(low, best)),
        shares_high=_shares(np.maximum(high, best)),
        clear=clear,
        low_spots=spots,
        trails=tuple(lab.trail(name, at) for name, at in (*heaters, *points)),
        drains=tuple(drains),
        verdict=judge(fall, spots, clear, bool(drains), inch, level=level),
        arrows=_arrows(lab.coarse, loose),
    )


def widened(surface: Surface) -> Surface:
    """Return the surface with its amplitude widened for what lies far from typical."""
    hyper = replace(surface.hyper, amplitude=WIDER * surface.hyper.amplitude)
    return replace(surface, hyper=hyper)


def marked(book: Book, area: Area, kind: str) -> list[Point]:
    """Return the places of the marks of one kind that stand in an area."""
    floor = shapely.Polygon(area.outline, area.holes)
    near = 1e-6 * float(floor.length)
    return [m.at for m in book.marks if m.kind == kind and floor.dwithin(shapely.Point(m.at), near)]


def judge(
    fall: Fall,
    spots: Sequence[LowSpot],
    clear: float,
    drained: bool,
    inch: float,
    *,
    level: bool = True,
) -> Verdict:
    """Return the word for a floor, by the first rule that holds.

    `negative slope`: the fall is surely to the wall facing the door (99 %), and its 95 % interval
    not within 1/4 in of none. `ponds`: the 95 % interval of a low spot's depth lies above a
    film. `flat`: the interval of the fall lies within 1/4 in of none, and the floor is
    ``level``: from highest to lowest it is surely (95 %) less than 1/2 in. `drains`: the fall
    is surely to the door (99 %), or there is a floor drain, and 95 % of the drawn floors let
    nine tenths of their area out. Else `too close to call`. A floor drain that does so also
    outweighs a negative slope, as the code allows either (IRC R309 to 2021, R317 in 2024; no
    figure is given there).
    ``inch`` is an inch in level units.
    """
    out = clear >= OFTEN
    small = abs(fall.value) + HELD * fall.sd < FLAT_IN * inch
    ponds = any(s.depth - HELD * s.depth_sd > FILM_IN * inch for s in spots)
    rules: tuple[tuple[bool, Verdict], ...] = (
        (drained and out and not ponds, "drains"),
        (fall.value + NAMED * fall.sd < 0 and not small, "negative slope"),
        (ponds, "ponds"),
        (small and level, "flat"),
        (out and fall.value - NAMED * fall.sd > 0, "drains"),
    )
    return next((word for holds, word in rules if holds), "too close to call")


@dataclass(frozen=True)
class _Lab:
    """The best surface on a fine grid beside drawn ones on a coarse grid."""

    fine: Basin
    flow: Flow
    coarse: Basin
    drawn: Flow

    def trail(self, label: str, start: Point) -> Trail:
        """Follow water from ``start`` on the best surface; count the draws that let it out."""
        path = [self.fine.nearest(start)]
        while (further := int(self.flow.step[0, path[-1]])) != path[-1]:
            path.append(further)
        end = self._end(path[-1])
        ends = self.drawn.end[:, self.coarse.nearest(start)]
        drain = self.coarse.drain[ends]
        return Trail(
            start=start,
            label=label,
            path=(start, *((float(x), float(y)) for x, y in self.fine.xy[path])),
            end=end,
            reaches_door=end == "door",
            probability=float((self.coarse.cells.outlet[ends] & ~drain).mean()),
            probability_drain=float(drain.mean()),
        )

    def _end(self, cell: int) -> End:
        if self.fine.drain[cell]:
            return "drain"
        if self.fine.cells.outlet[cell]:
            return "door"
        return "wall" if self.fine.cells.at_wall[cell] else "low spot"


def _lab(surface: Surface, basins: tuple[Basin, Basin], film: float) -> _Lab:
    fine, coarse = basins
    flow = run_water(fine, surface.predict(fine.xy)[0][None, :], film)
    return _Lab(fine, flow, coarse, run_water(coarse, draw_levels(surface, coarse.xy), film))


def draw_levels(surface: Surface, xy: Array) -> Array:
    """Return seeded joint draws (draws, m) of the surface at places (m, 2).

    By the Cholesky factor, with 1e-10 of the surface's variance added to keep it, or of the
    largest of the places' own where that is more: readings may leave a floor less sure than
    it is rough.
    """
    mean, covariance = surface.joint(xy)
    largest = max(surface.hyper.amplitude**2, float(np.diag(covariance).max()))
    covariance[np.diag_indices_from(covariance)] += 1e-10 * largest
    lower = cholesky(covariance, lower=True, overwrite_a=True, check_finite=False)
    standard = np.random.default_rng(SEED).standard_normal((DRAWS, len(mean)))
    return np.asarray(mean + standard @ lower.T)


def _shares(parts: Array) -> Shares:
    door, drain, wall, stands = np.clip(parts, 0.0, 1.0).tolist()
    return Shares(door, drain, wall, stands)


def _relief(surface: Surface, basin: Basin) -> float:
    """Return the upper end of the 95 % interval of the highest less the lowest place."""
    at = basin.xy[basin.size > 0]
    level = surface.predict(at)[0]
    ends = at[[int(level.argmax()), int(level.argmin())]]
    value, variance = surface.functional([[1.0, -1.0]], ends)
    return float(value[0] + HELD * np.sqrt(max(variance[0, 0], 0.0)))


def _arrows(basin: Basin, surface: Surface) -> Array:
    """Return places and unit vectors downhill (k, 4) at every third cell either way.

    The vector is 0 where it is not sure (95 %) that the floor falls along it.
    """
    rows, columns = basin.cells.rows, basin.cells.columns
    at = basin.xy[(rows % 3 == 2) & (columns % 3 == 1) & (basin.size > 0)]
    uphill, spread = surface.gradient(at)
    steep = np.hypot(uphill[:, 0], uphill[:, 1])
    way = -uphill / np.where(steep > 0, steep, 1.0)[:, None]
    doubt = np.sqrt(np.maximum(np.einsum("ki,kij,kj->k", way, spread, way), 0.0))
    return np.column_stack([at, way * (steep > SURE * doubt)[:, None]])
