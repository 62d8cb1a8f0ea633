"""The fall of the ground outside, away from the walls, from pairs of readings.

Both ends are read from one setup, so that its constant cancels. Each end's error is the
instrument's and the roughness of the ground under the foot of the rod or the tube.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from levelbook.book.model import Book, Grade, Instrument
from levelbook.book.numbers import parse_value
from levelbook.book.units import convert, rise_per_run
from levelbook.floor.model import Array, Point

ROUGH_IN = {"soil": 0.25, "paved": 0.05, "swale": 0.25}
"""How far (in, one sd) one spot lies off the ground around it, by surface. Our choice."""

HELD = 1.96  # sds of a 95 % interval
_WAYS = 144  # directions tried for the way straight out from a wall


@dataclass(frozen=True, slots=True)
class GradeFall:
    """One pair: fall (level units, + away from the wall) over a distance (plan units).

    ``slope`` is fall over distance; ``negative`` tells that the ground surely (95 %) runs
    toward the wall.
    """

    id: str
    at: Point
    out: Point
    distance: float
    fall: float
    sd: float
    slope: float
    slope_sd: float
    surface: Literal["soil", "paved", "swale"]
    negative: bool


def grade_falls(book: Book) -> tuple[GradeFall, ...]:
    """Return the fall of every pair that is not struck, in the book's order."""
    instruments = {one.id: one for one in book.instruments}
    used = {one.id: instruments[one.instrument] for one in book.setups}
    standing = [grade for grade in book.grades if not grade.struck]
    return tuple(_fall(book, grade, used[grade.setup]) for grade in standing)


def _fall(book: Book, grade: Grade, instrument: Instrument) -> GradeFall:
    out = grade.out or _straight_out(book, grade.at, grade.distance or 0.0)
    distance = grade.distance or float(np.hypot(*np.subtract(out, grade.at)))
    written = float(parse_value(grade.near) - parse_value(grade.far))
    rough = convert(ROUGH_IN[grade.surface], "in", book.units.level)
    fall = instrument.sense * written
    sd = float(np.sqrt(2.0 * (instrument.variance + rough**2)))
    scale = rise_per_run(book.units) / distance
    return GradeFall(
        id=grade.id,
        at=grade.at,
        out=out,
        distance=distance,
        fall=fall,
        sd=sd,
        slope=fall * scale,
        slope_sd=sd * scale,
        surface=grade.surface,
        negative=fall + HELD * sd < 0,
    )


def _straight_out(book: Book, at: Point, distance: float) -> Point:
    """Return the place at a distance that lies farthest from every floor."""
    house = shapely.union_all([shapely.Polygon(area.outline) for area in book.areas])
    angles = np.arange(_WAYS) * 2.0 * np.pi / _WAYS
    tried: Array = np.array(at) + distance * np.column_stack([np.cos(angles), np.sin(angles)])
    away = shapely.distance(house, shapely.points(tried))
    x, y = tried[int(np.argmax(np.round(away, 9)))].tolist()
    return x, y
