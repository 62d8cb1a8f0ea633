"""Outlines that enclose a floor, holes and doors that belong to them, stations that lie in them.

A station may lie up to 1 ft (0.3 m) outside the outline of its area, or as far into a hole:
outlines follow a face of the wall, and walls are thick. The ends of a vehicle door may lie as
far off the outline.
"""

import re
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Place

from levelbook.book.draft import Draft
from levelbook.book.faults import Collector, Step, show
from levelbook.book.model import Area, Point, Station

WALL_FEET, WALL_METRES = 1.0, 0.3
_LEAST_FEET, _LEAST_METRES = 0.1, 0.01
_NUMBERS = re.compile(r"\[(\S+) (\S+)\]")


def check_areas(draft: Draft, found: Collector) -> dict[str, Polygon]:
    """Tell outlines, holes and doors that cannot be; return the good floors by area id."""
    floors = {}
    for name, (i, area) in draft.by_id("areas", Area).items():
        floor = _floor(area, ("areas", i), draft, found)
        if floor is not None:
            floors[name] = floor
            _check_door(area, floor, ("areas", i, "vehicle_door"), draft, found)
        elif area.vehicle_door is not None and area.kind != "garage":
            _door_elsewhere(area, ("areas", i, "vehicle_door"), found)
    return floors


def check_stations(draft: Draft, floors: dict[str, Polygon], found: Collector) -> None:
    """Tell stations farther outside their area than a wall is thick."""
    tolerance = draft.length(WALL_FEET, WALL_METRES)
    members: dict[str, list[tuple[int, Station]]] = {}
    for i, station in draft.each("stations", Station):
        members.setdefault(station.area, []).append((i, station))
    for name, stations in members.items():
        if name in floors:
            shapely.prepare(floors[name])
            places = shapely.points([one.at for _, one in stations])
            for k in np.flatnonzero(~shapely.dwithin(floors[name], places, tolerance)):
                _tell_outside(stations[k], floors, draft, found)


def _tell_outside(
    stray: tuple[int, Station], floors: dict[str, Polygon], draft: Draft, found: Collector
) -> None:
    """Tell one station outside its area, and the area that it lies in."""
    i, station = stray
    place, problem, remedy = ("stations", i, "at"), "", ""
    if not found.full:
        spot = Place(station.at)
        away = floors[station.area].distance(spot)
        unit = "ft" if draft.length(1, 0) else "m"
        problem = f"{_spot(station.at)} is {away:.3g} {unit} outside area {show(station.area)}"
        inside = [name for name, floor in floors.items() if floor.covers(spot)]
        remedy = f"it lies in area {show(inside[0])}" if inside else "mend the place or the area"
    found.add("outside", place, problem, remedy)


def _floor(area: Area, place: tuple[Step, ...], draft: Draft, found: Collector) -> Polygon | None:
    """Return the floor of an area, or ``None`` after telling what is wrong with it."""
    outer = _ring(area.outline, (*place, "outline"), draft, found)
    holes = [_ring(hole, (*place, "holes", k), draft, found) for k, hole in enumerate(area.holes)]
    good = [hole for hole in holes if hole is not None]
    if outer is None or len(good) < len(holes):
        return None
    before = found.count
    for k, hole in enumerate(good):
        if not shapely.contains_properly(outer, hole):
            problem = "the hole does not lie wholly inside the outline"
            remedy = "move it, or let the outline run round it"
            found.add("hole", (*place, "holes", k), problem, remedy)
    floor = Polygon(area.outline, area.holes)
    if found.count == before and not floor.is_valid:
        problem = f"two holes overlap{_near(floor)}"
        found.add("hole", (*place, "holes"), problem, "join them or move them apart")
    return floor if found.count == before else None


def _ring(
    corners: Sequence[Point], place: tuple[Step, ...], draft: Draft, found: Collector
) -> Polygon | None:
    """Return the inside of one outline, or ``None`` after telling what is wrong with it."""
    before = found.count
    _check_corners(corners, place, found)
    if len(set(corners)) < 3:
        return None
    ring = Polygon(corners)
    least = draft.length(_LEAST_FEET, _LEAST_METRES)
    remedy = "give the corners in order round the floor"
    if ring.convex_hull.area < least or (ring.is_valid and ring.area < least):
        found.add("outline", place, "the outline encloses no area", remedy)
    elif not ring.is_valid and found.count == before:
        problem = f"the outline crosses or touches itself{_near(ring)}"
        found.add("outline", place, problem, remedy)
    return ring if found.count == before else None


def _check_corners(corners: Sequence[Point], place: tuple[Step, ...], found: Collector) -> None:
    """Tell too few corners, and corners that stand twice."""
    if len(corners) > 1 and corners[0] == corners[-1]:
        problem = "the last corner is the first again"
        remedy = "leave it out: outlines close themselves"
        found.add("outline", (*place, len(corners) - 1), problem, remedy)
        corners = corners[:-1]
    first: dict[Point, int] = {}
    for k, corner in enumerate(corners):
        if first.setdefault(corner, k) != k:
            problem = f"{_spot(corner)} is the same as corner [{first[corner]}]"
            found.add("outline", (*place, k), problem, "leave one of them out")
    if len(corners) < 3:
        problem = f"{len(corners)} corners enclose no floor"
        found.add("outline", place, problem, "give at least 3 corners")


def _check_door(
    area: Area, floor: Polygon, place: tuple[Step, ...], draft: Draft, found: Collector
) -> None:
    """Tell a vehicle door that is not one of a garage, has no width, or is off the outline."""
    if area.vehicle_door is None:
        return
    if area.kind != "garage":
        _door_elsewhere(area, place, found)
        return
    door = LineString(area.vehicle_door)
    if door.length == 0:
        found.add("door", place, "the door has no width", "give both sides of the doorway")
        return
    along = shapely.line_interpolate_point(door, np.linspace(0, 1, 9), normalized=True)
    off = float(shapely.distance(floor.exterior, along).max())
    if off > draft.length(WALL_FEET, WALL_METRES):
        unit = "ft" if draft.length(1, 0) else "m"
        problem = f"the door is up to {off:.3g} {unit} off the outline"
        found.add("door", place, problem, "give both sides of the doorway, on the outline")


def _door_elsewhere(area: Area, place: tuple[Step, ...], found: Collector) -> None:
    """Tell a vehicle door of what is not a garage."""
    problem = f"area {show(area.id)} is of kind '{area.kind}', and only a garage has one"
    found.add("door", place, problem, "make the kind 'garage', or mark a 'door'")


def _near(shape: Polygon) -> str:
    """Return the words for where a shape is not valid."""
    match = _NUMBERS.search(shapely.is_valid_reason(shape))
    return f" near {_spot((float(match[1]), float(match[2])))}" if match else ""


def _spot(point: Point) -> str:
    """Return a point as words."""
    return f"({point[0]:.6g}, {point[1]:.6g})"
