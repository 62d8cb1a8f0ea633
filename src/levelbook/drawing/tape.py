"""How to find a station again with a tape: its distances to two corners.

Corners are those of the area's outline and the ends and bends of inner walls. Of all pairs
that are in sight of the station, the one is taken that fixes it best: near, and seen at an
angle near a right one (the error across is that of the tape divided by the sine).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from levelbook.book.model import Area, Book, Point, Station
from levelbook.drawing.records import Array

#: Of a wall's length at a corner, how much is left out of a line of sight (feet, metres).
CLEAR = {"ft": 0.5, "m": 0.15}
LEAST_SINE = 0.05
INNER, MIRRORED, HIDDEN = 1.3, 1.5, 1e6


@dataclass(frozen=True, slots=True)
class Measured:
    """A distance to a corner, plan units."""

    corner: str
    distance: float


@dataclass(frozen=True)
class Tape:
    """The corners used, by their letters, and for every station its two distances."""

    corners: Mapping[str, Point]
    distances: Mapping[str, tuple[Measured, ...]]


def tape(book: Book) -> Tape:
    """Return from which two corners each station is measured; one or none in a bare area."""
    chosen: dict[str, list[Point]] = {}
    for area in book.areas:
        here = [station for station in book.stations if station.area == area.id]
        if here:
            chosen |= _in_area(book, area, here)
    used = sorted({at for pair in chosen.values() for at in pair}, key=lambda p: (-p[1], p[0]))
    letters = {at: letter(k) for k, at in enumerate(used)}
    places = {station.id: station.at for station in book.stations}
    distances = {
        name: tuple(Measured(letters[at], _distance(at, places[name])) for at in pair)
        for name, pair in chosen.items()
    }
    return Tape({name: at for at, name in letters.items()}, distances)


def letter(number: int) -> str:
    """Return A, B, … Z, AA, AB, … for 0, 1, and so on."""
    out = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        out = ascii_uppercase[rest] + out
    return out


def _distance(one: Point, other: Point) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))


def _in_area(book: Book, area: Area, stations: Sequence[Station]) -> dict[str, list[Point]]:
    """Return the two corners of each station of one area."""
    clear = CLEAR[book.units.plan]
    floor = Polygon(area.outline, area.holes).buffer(clear)
    corners, inner = _candidates(book, area, floor, clear)
    if len(corners) < 2:
        return {station.id: list(corners) for station in stations}
    at = np.array([station.at for station in stations], float)
    ends = np.array(corners, float)
    away = ends[None, :, :] - at[:, None, :]
    far = np.hypot(away[..., 0], away[..., 1])
    seen = _in_sight(book, floor, at, away, far, clear)
    weight = np.where(inner, INNER, 1.0)[None, :] * np.where(seen, 1.0, HIDDEN)
    first, second = np.triu_indices(len(corners), 1)
    cross = away[:, first, 0] * away[:, second, 1] - away[:, first, 1] * away[:, second, 0]
    sine = np.abs(cross) / np.maximum(far[:, first] * far[:, second], 1e-12)
    cost = (far * weight)[:, first] + (far * weight)[:, second] + clear
    cost = cost / np.maximum(sine, LEAST_SINE)
    cost = cost * np.where(_mirrored(floor, at, ends[first], ends[second]), MIRRORED, 1.0)
    best = np.argmin(cost, axis=1)
    return {
        station.id: [corners[i] for i in sorted((first[k], second[k]), key=lambda i: far[row, i])]
        for row, (station, k) in enumerate(zip(stations, best, strict=True))
    }


def _candidates(
    book: Book, area: Area, floor: Polygon, clear: float
) -> tuple[list[Point], list[bool]]:
    """Return the corners that an area may be measured from, and which are of inner walls."""
    found: list[Point] = []
    inner: list[bool] = []
    outer = [at for ring in (area.outline, *area.holes) for at in ring]
    own = floor.buffer(-0.5 * clear)  # a corner of the next area is behind a wall
    walls = [at for wall in book.walls for at in wall if own.covers(shapely.Point(at))]
    for at, inside in [*((a, False) for a in outer), *((a, True) for a in walls)]:
        if all(_distance(at, other) > clear for other in found):
            found.append(at)
            inner.append(inside)
    return found, inner


def _in_sight(
    book: Book, floor: Polygon, at: Array, away: Array, far: Array, clear: float
) -> NDArray[np.bool_]:
    """Return which corners (columns) a tape reaches straight from which stations (rows)."""
    short = np.maximum(far - clear, 0.0) / np.maximum(far, 1e-12)
    ends = at[:, None, :] + away * short[..., None]
    starts = np.broadcast_to(at[:, None, :], ends.shape)
    lines = shapely.linestrings(np.stack([starts, ends], axis=2))
    shapely.prepare(floor)
    free = shapely.covers(floor, lines)
    walls = [wall for wall in book.walls if len(wall) > 1]
    if walls:
        standing = shapely.multilinestrings([shapely.LineString(wall) for wall in walls])
        shapely.prepare(standing)
        free &= ~shapely.intersects(standing, lines)
    return np.asarray(free, bool)


def _mirrored(floor: Polygon, at: Array, one: Array, other: Array) -> NDArray[np.bool_]:
    """Return where the same two distances would fit a second place on the floor."""
    along = other - one
    along = along / np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)[:, None]
    away = at[:, None, :] - one[None, :, :]
    foot = one[None, :, :] + (away * along[None]).sum(axis=2)[..., None] * along[None]
    second = 2 * foot - at[:, None, :]
    return np.asarray(shapely.contains_xy(floor, second[..., 0], second[..., 1]), bool)
