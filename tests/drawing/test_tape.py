"""Two distances to find a station by: they fit it, are in sight, and can be measured."""

import json
from math import dist, hypot
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from levelbook.book import read_book
from levelbook.book.model import Book
from levelbook.demo import house
from levelbook.drawing.tape import Tape, letter, tape

DEMO = read_book(house())


def places(book: Book, found: Tape, name: str) -> list[tuple[float, float]]:
    """Return the two places that have the distances told, by intersecting circles."""
    (one, other) = found.distances[name]
    (x0, y0), (x1, y1) = found.corners[one.corner], found.corners[other.corner]
    apart = hypot(x1 - x0, y1 - y0)
    along = (one.distance**2 - other.distance**2 + apart**2) / (2 * apart)
    across = max(one.distance**2 - along**2, 0.0) ** 0.5
    u, v = (x1 - x0) / apart, (y1 - y0) / apart
    return [
        (x0 + along * u - side * across * v, y0 + along * v + side * across * u) for side in (1, -1)
    ]


def test_the_distances_lead_to_the_station() -> None:
    """Where the two arcs cross is the station, for every station of the demo house."""
    found = tape(DEMO)
    for station in DEMO.stations:
        assert len(found.distances[station.id]) == 2
        assert min(dist(station.at, p) for p in places(DEMO, found, station.id)) < 1e-6


def test_corners_are_ones_that_can_be_touched() -> None:
    """Every corner is one of an outline, or an end or bend of a wall."""
    there = {at for area in DEMO.areas for at in area.outline}
    there |= {at for wall in DEMO.walls for at in wall}
    assert set(tape(DEMO).corners.values()) <= there


def test_no_wall_stands_between() -> None:
    """From every station of the demo house a tape runs straight and free to its corners."""
    found = tape(DEMO)
    floors = {area.id: Polygon(area.outline).buffer(0.5) for area in DEMO.areas}
    walls = [LineString(wall) for wall in DEMO.walls]
    clear = [s for s in DEMO.stations if all(w.distance(Point(s.at)) > 0.01 for w in walls)]
    assert len(clear) == len(DEMO.stations) - 1  # one stands in a wall as it is drawn
    for station in clear:
        for measured in found.distances[station.id]:
            line = LineString([station.at, found.corners[measured.corner]])
            seen = LineString([station.at, line.interpolate(max(line.length - 0.51, 0.0))])
            assert floors[station.area].covers(seen), (station.id, measured)
            assert not any(seen.intersects(wall) for wall in walls), (station.id, measured)


def test_the_angle_is_a_useful_one() -> None:
    """The two tapes of each station meet at 15 degrees or more, where any two do so well."""
    found = tape(DEMO)
    for station in DEMO.stations:
        ends = [found.corners[m.corner] for m in found.distances[station.id]]
        (ax, ay), (bx, by) = ((x - station.at[0], y - station.at[1]) for x, y in ends)
        lengths = hypot(ax, ay) * hypot(bx, by)
        assert abs(ax * by - ay * bx) / lengths > 0.25, station.id


@settings(max_examples=30)
@given(
    st.lists(
        st.tuples(st.integers(0, 400), st.integers(0, 300)).map(lambda p: (p[0] / 10, p[1] / 10)),
        min_size=1,
        max_size=25,
    ),
    st.sampled_from(["ft", "m"]),
)
def test_any_station_of_an_oblong(spots: list[tuple[float, float]], unit: str) -> None:
    """Wherever stations stand, on walls and corners too, the arcs cross there."""
    document: dict[str, Any] = json.loads(house())
    for key in ("walls", "marks", "sections", "distress"):
        document.pop(key, None)
    document["units"]["plan"] = unit
    document["areas"] = [
        {"id": "house", "kind": "living", "outline": [[0, 0], [40, 0], [40, 30], [0, 30]]}
    ]
    document["setups"] = [{"id": "A", "instrument": "L1"}]
    document["stations"] = [
        {"id": f"s{k}", "at": list(at), "area": "house"} for k, at in enumerate(spots)
    ]
    document["readings"] = [
        {"id": "r", "setup": "A", "station": "s0", "finish": "tile", "value": "0"}
    ]
    document["reference"] = {"station": "s0"}
    book = read_book(json.dumps(document))
    found = tape(book)
    for station in book.stations:
        assert min(dist(station.at, p) for p in places(book, found, station.id)) < 1e-3


def test_an_area_without_stations_has_no_corners() -> None:
    """Only corners that are measured from get a letter."""
    stations = tuple(s for s in DEMO.stations if s.area == "garage")
    found = tape(DEMO.model_copy(update={"stations": stations}))
    assert all(x >= 28 and y <= 20.5 for x, y in found.corners.values())


@pytest.mark.parametrize(("number", "expected"), [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ")])
def test_letters_go_on(number: int, expected: str) -> None:
    """After Z come AA, AB and so on."""
    assert letter(number) == expected


def test_letters_are_each_used_once() -> None:
    """Every corner has its own letter, and every letter told is on the plan."""
    found = tape(DEMO)
    told = {m.corner for pair in found.distances.values() for m in pair}
    assert told == set(found.corners)
