"""The drawing of a garage floor: what is on it, apart from colour, and in words."""

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from levelbook.book import read_book
from levelbook.book.model import Area, Book, Mark
from levelbook.demo import house
from levelbook.drawing.garage import garage_plan
from levelbook.drawing.records import Polygon, Text, flatten
from levelbook.drawing.svg import to_svg
from levelbook.findings import assess
from levelbook.floor.doorway import Fall
from levelbook.floor.garage import Garage, Shares, Trail
from levelbook.floor.low_spots import LowSpot


@pytest.fixture(scope="module")
def book() -> Book:
    """Return the demo's book."""
    return read_book(house())


def found(book: Book, *, spots=(), trails=(), verdict="ponds") -> Garage:
    """Return made-up findings about the demo's garage."""
    area = next(a for a in book.areas if a.kind == "garage")
    x, y = np.meshgrid(np.linspace(31, 49, 5), np.linspace(3, 17, 4))
    arrows = np.column_stack([x.ravel(), y.ravel(), np.zeros(20), -np.ones(20)])
    return Garage(
        area=area.id,
        readings=12,
        fall=Fall(0.5, 0.05, 19.5),
        slope=0.002,
        slope_sd=0.0002,
        toward=180.0,
        resultant=0.002,
        resultant_sd=0.0002,
        shares=Shares(0.5, 0.0, 0.1, 0.4),
        shares_sd=Shares(0.05, 0.0, 0.05, 0.05),
        shares_low=Shares(0.4, 0.0, 0.0, 0.3),
        shares_high=Shares(0.6, 0.0, 0.2, 0.5),
        clear=0.1,
        low_spots=tuple(spots),
        trails=tuple(trails),
        drains=(),
        verdict=verdict,
        arrows=arrows,
    )


def ring(x, y, radius=3.0):
    """Return a round ring on the plan."""
    return tuple(shapely.Point(x, y).buffer(radius).exterior.coords)[:-1]


SPOT = LowSpot((40.0, 9.0), (40.0, 0.0), 28.0, 5.0, 0.42, 0.1, 0.99, (ring(40.0, 9.0),))
TRAIL = Trail(
    (48.0, 17.0),
    "water-heater",
    ((48.0, 17.0), (44.0, 12.0), (40.0, 9.0)),
    "low spot",
    False,
    0.1,
    0.0,
)


def roles(drawing):
    """Return how often each role stands on a drawing."""
    names = [item.role for item in flatten(drawing.items)]
    return {name: names.count(name) for name in names}


@pytest.mark.parametrize("width", [95.0, 178.0])
def test_everything_found_is_drawn(book, width):
    """Arrows, a hatched low place with its depth and ±, the way from the heater, the door."""
    drawing = garage_plan(book, found(book, spots=[SPOT], trails=[TRAIL]), width_mm=width)
    there = roles(drawing)
    assert there["arrow"] > 20
    assert {"low-spot", "low-spot-hatch", "deepest", "trail", "door", "outline", "mark"} <= set(
        there
    )
    said = [t.text for t in flatten(drawing.items) if isinstance(t, Text)]
    assert any(re.fullmatch(r"1: 0\.4\d* ±\u00a00\.2\d* in deep", text) for text in said)
    assert "vehicle door" in said
    assert not drawing.unplaced
    assert to_svg(drawing).startswith("<svg")


def test_arrows_stay_on_the_floor(book):
    """No arrow crosses a wall, though the floor runs into one."""
    area = next(a for a in book.areas if a.kind == "garage")
    x, y = np.array(area.outline).T
    edge = np.array([[x.max() - 0.6, y.mean(), -1.0, 0.0], [x.mean(), y.mean(), 0.0, -1.0]])
    drawing = garage_plan(book, replace(found(book), arrows=edge))
    shapes = [*flatten(drawing.items)]
    (floor,) = (s.rings[0] for s in shapes if isinstance(s, Polygon) and s.role == "ground")
    inside = shapely.Polygon(floor)
    heads = [s.rings[0] for s in shapes if isinstance(s, Polygon) and s.role == "arrow"]
    near = [h for h in heads if inside.buffer(8.0).contains(shapely.Point(h[0]))]
    assert near
    assert all(inside.contains(shapely.Polygon(h)) for h in near)


def test_a_dry_floor_has_no_low_place(book):
    """Without low places neither hatch nor its line in the legend is there."""
    drawing = garage_plan(book, found(book, verdict="drains"))
    assert "low-spot" not in roles(drawing)
    said = " ".join(t.text for t in flatten(drawing.items) if isinstance(t, Text))
    assert "low place" not in said
    assert "way of water" not in said


def test_texts_stay_on_the_sheet_and_apart(book):
    """No text overlaps another or leaves the sheet, with three low places and two ways."""
    spots = [
        LowSpot((x, y), (x, 0.0), 9.0, 2.0, 0.3, 0.05, 0.9, (ring(x, y, 1.5),))
        for x, y in ((33.0, 4.0), (40.0, 10.0), (47.0, 15.0))
    ]
    other = Trail((34.0, 15.0), "34, 15", ((34.0, 15.0), (34.0, 0.0)), "door", True, 0.9, 0.0)
    drawing = garage_plan(
        book, found(book, spots=spots, trails=[TRAIL, other]), width_mm=178, height_mm=95
    )
    boxes = [shapely.Polygon(t.corners()) for t in flatten(drawing.items) if isinstance(t, Text)]
    sheet = shapely.box(-0.1, -0.1, drawing.width + 0.1, drawing.height + 0.1)
    assert all(sheet.contains(box) for box in boxes)
    for k, box in enumerate(boxes):
        assert not any(box.intersection(rest).area > 1e-6 for rest in boxes[k + 1 :])
    labels = [t.text for t in flatten(drawing.items) if isinstance(t, Text)]
    assert sum(label.endswith("in deep") for label in labels) == 3


def test_what_is_low_lies_on_the_floor(book):
    """The low places found on the demo's garage, if any, and its floor are within its walls."""
    told = assess(book)
    (garage,) = told.water.garages.values()
    drawing = garage_plan(book, garage)
    floors = [p for p in flatten(drawing.items) if isinstance(p, Polygon) and p.role == "ground"]
    assert len(floors) == 1
    assert "Fall to the vehicle door" in drawing.description


def test_what_is_not_sure_is_not_drawn(book):
    """Where the way downhill is not known a ring stands, and an unsure way of water has no line."""
    level = found(book, verdict="flat", trails=[replace(TRAIL, probability=0.48)])
    half = level.arrows.copy()
    half[:10, 2:] = 0.0
    drawing = garage_plan(book, replace(level, arrows=half))
    there = roles(drawing)
    assert there["level-here"] > 5
    assert "trail" not in there
    said = " ".join(t.text for t in flatten(drawing.items) if isinstance(t, Text))
    assert "too level there" in said
    assert "arrow: the way" in said
    assert "way of water" not in said
    assert "too close to call" in drawing.description
    half[:, 2:] = 0.0
    bare = garage_plan(book, replace(level, arrows=half))
    assert "arrow" not in roles(bare)


def test_a_foreign_sign_is_left_out(book):
    """Marks of other floors are not drawn on the garage."""
    more = book.model_copy(update={"marks": (*book.marks, Mark(kind="drain", at=(2.0, 2.0)))})
    area = next(a for a in book.areas if a.kind == "garage")
    assert isinstance(area, Area)
    before, after = (roles(garage_plan(b, found(b))).get("mark", 0) for b in (book, more))
    assert before == after
