"""The GeoJSON keeps the rules of RFC 7946 and says what the results say."""

import json
from itertools import pairwise
from typing import Any

import jsonschema
import pytest

from levelbook.exchange.contour_lines import contour_lines
from levelbook.exchange.geojson import geojson
from levelbook.findings.model import Assessment

POSITION = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 3}
LINE = {"type": "array", "items": POSITION, "minItems": 2}
RING = {"type": "array", "items": POSITION, "minItems": 4}


def _geometry(name: str, coordinates: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "required": ["type", "coordinates"],
        "properties": {"type": {"const": name}, "coordinates": coordinates},
    }


# Written here after RFC 7946, sections 3.1 to 3.3 (positions, geometries, features).
SCHEMA = {
    "type": "object",
    "required": ["type", "features"],
    "properties": {
        "type": {"const": "FeatureCollection"},
        "features": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["type", "geometry", "properties"],
                "properties": {
                    "type": {"const": "Feature"},
                    "properties": {"type": ["object", "null"]},
                    "geometry": {
                        "oneOf": [
                            _geometry("Point", POSITION),
                            _geometry("LineString", LINE),
                            _geometry("Polygon", {"type": "array", "items": RING}),
                        ]
                    },
                },
            },
        },
    },
}


@pytest.fixture(scope="module")
def made(demo: Assessment) -> dict[str, Any]:
    """Return the demo house as GeoJSON."""
    found: dict[str, Any] = json.loads(geojson(demo))
    return found


def of(made: dict[str, Any], what: str) -> list[dict[str, Any]]:
    """Return the features that are of one kind."""
    return [f for f in made["features"] if f["properties"]["what"] == what]


def test_keeps_the_schema(made: dict[str, Any]) -> None:
    """Every feature is of the form that the standard gives it."""
    jsonschema.validate(made, SCHEMA)


def test_the_schema_can_refuse(made: dict[str, Any]) -> None:
    """The check is one: a ring of three places or a feature without geometry is refused."""
    broken = json.loads(json.dumps(made))
    of(broken, "area")[0]["geometry"]["coordinates"][0] = [[0, 0], [1, 0], [0, 0]]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(broken, SCHEMA)


def test_rings_close_and_turn_left(made: dict[str, Any]) -> None:
    """Outer rings run against the clock and close (RFC 7946, 3.1.6)."""
    for area in of(made, "area"):
        outer, *holes = area["geometry"]["coordinates"]
        for ring, sign in [(outer, 1), *((hole, -1) for hole in holes)]:
            assert ring[0] == ring[-1]
            turned = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))
            assert turned * sign > 0


def test_levels_are_those_of_the_results(made: dict[str, Any], demo: Assessment) -> None:
    """Each station has its place, level, sd and group; one not read has none."""
    stations = {s.id: s for s in demo.book.stations}
    for feature in of(made, "station"):
        told = feature["properties"]
        assert tuple(feature["geometry"]["coordinates"]) == stations.pop(told["id"]).at
        found = demo.levels.stations.get(told["id"])
        if found is None:
            assert "level" not in told
        else:
            assert (told["level"], told["sd"], told["group"]) == (
                found.level,
                found.sd,
                found.group,
            )
    assert not stations


def test_contours_are_all_there(made: dict[str, Any], demo: Assessment) -> None:
    """As many contours as were computed, at their levels."""
    due = [line.level for _, _, lines in contour_lines(demo) for line in lines]
    assert [f["properties"]["level"] for f in of(made, "contour")] == due


def test_says_whose_coordinates_they_are(made: dict[str, Any]) -> None:
    """Plan coordinates are no longitudes: the file says so."""
    assert made["levelbook"]["coordinates"].startswith("plan, ft")
