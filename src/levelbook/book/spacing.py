"""Remarks on where the floor was not read: along the walls, inside, in the corners.

The lengths are common practice in the trade, without a source: readings at most about 10 ft
(3 m) apart. With readings on a square grid of that spacing no place is farther from one than
the spacing over √2, which is the limit inside.
"""

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from levelbook.book.faults import show
from levelbook.book.model import Area, Station
from levelbook.book.survey import Notice, Survey, floor_of, several

_APART_FEET, _APART_METRES = 10.0, 3.0
_NEAR_FEET, _NEAR_METRES = 4.0, 1.2
_JOG_FEET, _JOG_METRES = 2.0, 0.6
_TURN_DEGREES = 30.0
_GRID = 48


def spacing_notices(survey: Survey) -> list[Notice]:
    """Remark on every area that is read too thinly somewhere."""
    told: list[Notice] = []
    for i, area in enumerate(survey.book.areas):
        place, stations = f"areas[{i}]", survey.read.get(area.id, [])
        if not stations:
            sentence = f"Area {show(area.id)} has no reading that stands."
            told.append(Notice("area-unread", place, sentence, "Read it, or leave it out."))
            continue
        floor = floor_of(area)
        told += _wall(place, area, floor, stations, survey)
        told += _inside(place, area, floor, stations, survey)
        told += _corners(place, area, floor, stations, survey)
    return told


def _wall(
    place: str, area: Area, floor: Polygon, stations: list[Station], survey: Survey
) -> list[Notice]:
    """Remark on long stretches of wall without a reading near."""
    wall, limit = floor.exterior, survey.length(_APART_FEET, _APART_METRES)
    points = shapely.points([one.at for one in stations])
    off = shapely.distance(wall, points)
    near = np.flatnonzero(off <= survey.length(_NEAR_FEET, _NEAR_METRES))
    if near.size < 2:
        sentence = f"Hardly a reading lies along the walls of area {show(area.id)}."
        remedy = "The walls tell most about a floor; read along them."
        return [Notice("wall-gap", place, sentence, remedy)]
    order, gaps = _gaps(wall, points[near], off[near])
    worst, long = int(gaps.argmax()), int((gaps > limit + 1e-9).sum())
    if not long:
        return []
    ends = [show(stations[near[order[k % len(order)]]].id) for k in (worst, worst + 1)]
    where = f"between stations {ends[0]} and {ends[1]}, {survey.told(float(gaps[worst]))}"
    many = f" ({long} such stretches; this is the longest)" if long > 1 else ""
    sentence = f"Along the wall of area {show(area.id)} no reading lies {where}{many}."
    remedy = f"Readings along a wall are best {survey.told(limit)} apart or less."
    return [Notice("wall-gap", place, sentence, remedy)]


def _gaps(
    wall: shapely.LinearRing, points: NDArray[np.object_], off: NDArray[np.float64]
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return the order of points round a wall and how far each is from the next.

    That is along the wall, less what a corner adds for points that stand off the wall, and no
    less than straight across.
    """
    along = shapely.line_locate_point(wall, points)
    order = np.argsort(along, kind="stable")
    after = np.roll(order, -1)
    gaps = np.diff(along[order], append=along[order[0]] + wall.length)
    gaps -= off[order] + off[after]
    return order, np.maximum(gaps, shapely.distance(points[order], points[after]))


def _spot(x: float, y: float) -> str:
    """Return a place on the plan as words."""
    return f"({x:.4g}, {y:.4g})"


def _inside(
    place: str, area: Area, floor: Polygon, stations: list[Station], survey: Survey
) -> list[Notice]:
    """Remark on the place of the floor that is farthest from any reading."""
    limit = survey.length(_APART_FEET, _APART_METRES)
    grid = _grid(floor)
    read = shapely.points([one.at for one in stations])
    _, distances = shapely.STRtree(read).query_nearest(
        grid, all_matches=False, return_distance=True
    )
    far = int(distances.argmax())
    if distances[far] <= limit / math.sqrt(2):
        return []
    sentence = (
        f"In area {show(area.id)} the floor near {_spot(grid[far].x, grid[far].y)} is "
        f"{survey.told(float(distances[far]))} from the nearest reading."
    )
    remedy = f"One more there; readings are best {survey.told(limit)} apart or less."
    return [Notice("floor-gap", place, sentence, remedy)]


def _grid(floor: Polygon) -> NDArray[np.object_]:
    """Return points spread over a floor, one within it at least."""
    x0, y0, x1, y1 = floor.bounds
    x, y = np.meshgrid(np.linspace(x0, x1, _GRID), np.linspace(y0, y1, _GRID))
    inside = shapely.contains_xy(floor, x, y)
    points: NDArray[np.object_] = shapely.points(x[inside], y[inside])
    return np.append(points, floor.representative_point())


def _corners(
    place: str, area: Area, floor: Polygon, stations: list[Station], survey: Survey
) -> list[Notice]:
    """Remark on corners of the outline without a reading near."""
    near = survey.length(_NEAR_FEET, _NEAR_METRES)
    corners = _true_corners(floor, survey.length(_JOG_FEET, _JOG_METRES))
    points = shapely.multipoints([one.at for one in stations])
    missed = [c for c in corners if points.distance(shapely.Point(c)) > near]
    if not missed:
        return []
    which = "corner" if len(missed) == 1 else f"{len(missed)} corners"
    sentence = (
        f"Area {show(area.id)} has no reading within {survey.told(near)} of its "
        f"{which} {several([_spot(*c) for c in missed])}."
    )
    remedy = "Corners tell most about tilt; read them where they can be reached."
    return [Notice("missed-corner", place, sentence, remedy)]


def _true_corners(floor: Polygon, jog: float) -> list[tuple[float, float]]:
    """Return the corners of an outline that are more than a jog or a slight bend."""
    ring = np.array(floor.exterior.simplify(jog).coords)[:-1]
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.degrees(np.arctan2(np.abs(cross), (before * after).sum(axis=1)))
    return [(float(x), float(y)) for x, y in ring[turn >= _TURN_DEGREES]]
