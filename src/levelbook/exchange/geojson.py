"""GeoJSON (RFC 7946) in plan coordinates: stations, outlines, marks, signs, contours.

The format is made for longitude and latitude; here the coordinates are the plan's own, which
the member ``coordinates`` of ``levelbook`` says, as RFC 7946, section 4, allows by agreement.
"""

import json
from collections.abc import Iterator, Sequence
from typing import Any

from levelbook.exchange.contour_lines import contour_lines
from levelbook.findings.model import Assessment
from levelbook.floor.shape import AreaShape

Json = Any


def geojson(assessment: Assessment) -> bytes:
    """Return the plan and its levels as a feature collection."""
    book = assessment.book
    document = {
        "type": "FeatureCollection",
        "levelbook": {
            "coordinates": f"plan, {book.units.plan}; x to the right, y up the sheet",
            "level_unit": book.units.level,
            "visit": book.visit.date,
            "sha256": assessment.digest,
        },
        "features": list(_features(assessment)),
    }
    return json.dumps(document, ensure_ascii=False, allow_nan=False).encode("utf-8")


def _features(assessment: Assessment) -> Iterator[Json]:
    book, levels = assessment.book, assessment.levels
    for area in book.areas:
        rings = [_ring(area.outline, clockwise=False)]
        rings += [_ring(hole, clockwise=True) for hole in area.holes]
        yield _feature("Polygon", rings, "area", id=area.id, kind=area.kind)
        if area.vehicle_door:
            yield _feature("LineString", list(area.vehicle_door), "vehicle-door", area=area.id)
    for wall in book.walls:
        yield _feature("LineString", list(wall), "wall")
    for station in book.stations:
        found = levels.stations.get(station.id)
        told = {} if found is None else {"level": found.level, "sd": found.sd, "group": found.group}
        yield _feature("Point", station.at, "station", id=station.id, area=station.area, **told)
    for mark in book.marks:
        yield _feature("Point", mark.at, "mark", kind=mark.kind, label=mark.label)
    for section in book.sections:
        yield _feature("LineString", list(section.line), "section", id=section.id)
    for sign in book.distress:
        shape = "Point" if sign.at else "LineString"
        where: Json = sign.at or list(sign.line or ())
        yield _feature(shape, where, "distress", id=sign.id, kind=sign.kind, element=sign.element)
    for floor, _, lines in contour_lines(assessment):
        for line in lines:
            points = line.line.tolist()
            yield _feature("LineString", points, "contour", **_contour(floor, line.level))


def _contour(floor: AreaShape, level: float) -> dict[str, Json]:
    return {"area": floor.area, "group": floor.group, "level": level}


def _feature(shape: str, coordinates: Json, what: str, **told: Json) -> Json:
    properties = {"what": what} | {key: value for key, value in told.items() if value is not None}
    return {
        "type": "Feature",
        "geometry": {"type": shape, "coordinates": coordinates},
        "properties": properties,
    }


def _ring(corners: Sequence[tuple[float, float]], *, clockwise: bool) -> list[Json]:
    """Return a closed ring in the sense that the format asks for (RFC 7946, 3.1.6)."""
    points = [list(corner) for corner in corners]
    if points[0] == points[-1]:
        points.pop()
    pairs = zip(points, points[1:] + points[:1], strict=True)
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)
    if (area < 0) != clockwise:
        points.reverse()
    return [*points, points[0]]
