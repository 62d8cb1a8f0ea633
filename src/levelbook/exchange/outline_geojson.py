"""Polygons of GeoJSON as closed lines, with the unit where this program wrote the file."""

import re
from collections.abc import Iterator

from levelbook.exchange.cells import Unit
from levelbook.exchange.outlines import Drawn, Ring
from levelbook.exchange.questions import Interview, refused

DEEPEST = 30
MOST_POINTS = 20_000
"""Corners of one ring that are looked at; a floor may have far fewer."""


def is_geojson(document: object) -> bool:
    """Return whether a JSON value is GeoJSON."""
    return isinstance(document, dict) and document.get("type") in (
        *("FeatureCollection", "Feature", "GeometryCollection"),
        *("Polygon", "MultiPolygon"),
    )


def from_geojson(document: object, name: str, talk: Interview) -> tuple[list[Drawn], Unit | None]:
    """Return the polygons of a GeoJSON document; its unit where this program wrote it."""
    own = document.get("levelbook") if isinstance(document, dict) else None
    told = re.match(r"plan, (ft|m)\b", str(own.get("coordinates")) if isinstance(own, dict) else "")
    unit: Unit | None = None if told is None else ("ft" if told[1] == "ft" else "m")
    drawn = []
    for place, geometry, called in _geometries(document, name, 0):
        kind, coordinates = geometry.get("type"), geometry.get("coordinates")
        polygons = coordinates if kind == "MultiPolygon" else [coordinates]
        if kind not in ("Polygon", "MultiPolygon"):
            if own is None:
                talk.leave(place, str(kind), "only polygons become floors")
            continue
        for polygon in polygons if isinstance(polygons, list) else []:
            rings = polygon if isinstance(polygon, list) else []
            drawn += [
                Drawn(place, _ring(ring, place), called, hole=i > 0) for i, ring in enumerate(rings)
            ]
    return drawn, unit


def _geometries(
    value: object, place: str, depth: int
) -> Iterator[tuple[str, dict[str, object], str | None]]:
    if not isinstance(value, dict) or depth > DEEPEST:
        raise refused("outline", place, "is no GeoJSON object", "write GeoJSON (RFC 7946)")
    match value.get("type"):
        case "FeatureCollection":
            features = value.get("features")
            for i, feature in enumerate(features if isinstance(features, list) else []):
                yield from _geometries(feature, f"features[{i}]", depth + 1)
        case "Feature":
            told = value.get("properties")
            called = (told.get("id") or told.get("name")) if isinstance(told, dict) else None
            if value.get("geometry") is not None:
                for spot, geometry, _ in _geometries(value["geometry"], place, depth + 1):
                    yield spot, geometry, called if isinstance(called, str) else None
        case "GeometryCollection":
            held = value.get("geometries")
            for i, geometry in enumerate(held if isinstance(held, list) else []):
                yield from _geometries(geometry, f"{place}.geometries[{i}]", depth + 1)
        case _:
            yield place, value, None


def _ring(ring: object, place: str) -> Ring:
    try:
        points: list[list[object]] = ring if isinstance(ring, list) else [[]]
        if len(points) > MOST_POINTS:
            raise refused("outline", place, f"has {len(points):,} corners", "simplify its outline")
        return [(_finite(point[0]), _finite(point[1])) for point in points]
    except (TypeError, IndexError, KeyError, ValueError):
        problem = "its corners are not pairs of numbers"
        raise refused("outline", place, problem, "write GeoJSON (RFC 7946)") from None


def _finite(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        raise ValueError("not a coordinate")
    return float(value)
