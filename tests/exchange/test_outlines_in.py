"""Outlines from drawings lie where they were drawn, in the plan's unit."""

import io
import json
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from exchange_books import book_of
from importing import imported

from levelbook.book.model import Book
from levelbook.errors import DocumentError
from levelbook.exchange.incoming import plan_import

L_SHAPE = [(0, 0), (40, 0), (40, 30), (20, 30), (20, 20), (0, 20)]
TABLE = "station,x (ft),y (ft),reading (in)\n1,1,1,0.5\n2,30,25,-0.25\n3,10,25,0.1\n"
ALWAYS = {"date": "2026-03-02", "sense": "more", "sd": "0.05"}


def dxf(units: int = 2, scale: float = 1.0, kind: str = "closed") -> bytes:
    """Return a drawing of the L-shape: as one closed line or as single ones."""
    file = ezdxf.new("R2010")
    file.header["$INSUNITS"] = units
    space = file.modelspace()
    ring = [(x * scale, y * scale) for x, y in L_SHAPE]
    if kind == "closed":
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "FLOOR"})
    elif kind == "old":
        space.add_polyline2d(ring, close=True)
    else:
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            space.add_line(a, b)
    space.add_text("kitchen")
    out = io.StringIO()
    file.write(out)
    return out.getvalue().encode()


def svg(inner: str, head: str = "") -> bytes:
    """Return an SVG drawing."""
    return (
        f'{head}<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 50 50">{inner}</svg>'.encode()
    )


def feature(ring: list[Any], *holes: list[Any]) -> dict[str, Any]:
    """Return a GeoJSON feature with a polygon."""
    rings = [[list(p) for p in (*r, r[0])] for r in (ring, *holes)]
    return {"type": "Feature", "properties": {"name": "house"},
            "geometry": {"type": "Polygon", "coordinates": rings}}  # fmt: skip


@pytest.fixture
def book() -> Book:
    """Return a book to put outlines into."""
    return book_of([("A", "p", "t", "1"), ("A", "q", "t", "2")])


def outline_of(plan: Any) -> shapely.Polygon:
    """Return the first area's outline."""
    assert plan.book is not None, plan.questions
    area = plan.book.areas[0]
    return shapely.Polygon(area.outline, area.holes)


def same(found: shapely.Polygon, ring: Any = L_SHAPE) -> bool:
    """Tell whether an outline is a ring, to 1e-6."""
    return bool(found.symmetric_difference(shapely.Polygon(ring)).area < 1e-5)


@pytest.mark.parametrize("kind", ["closed", "old", "single"])
@pytest.mark.parametrize(("units", "scale"), [(2, 1.0), (1, 12.0), (6, 0.3048), (4, 304.8)])
def test_from_a_drawing_file(kind: str, units: int, scale: float) -> None:
    """Whatever its unit and however it is drawn, the floor has its real size."""
    plan, asked = imported(TABLE, ALWAYS, outline=dxf(units, scale, kind))
    assert same(outline_of(plan))
    assert asked == set(ALWAYS)


def test_a_station_outside_is_told() -> None:
    """Station 3 stands in the notch of the L: it is not taken, and said to be outside."""
    plan, _ = imported(TABLE, ALWAYS, outline=dxf())
    assert [station.id for station in plan.book.stations] == ["1", "2"]
    told = " ".join(f"{left.place} {left.why}" for left in plan.left)
    assert "station 3" in told
    assert "outside" in told


def test_a_drawing_without_a_unit_is_asked_about() -> None:
    """A unitless drawing is no foot by itself."""
    plan, asked = imported(TABLE, ALWAYS | {"unit.drawing": "m"}, outline=dxf(0, 0.3048))
    assert "unit.drawing" in asked
    assert same(outline_of(plan))


@pytest.mark.parametrize(
    "inner",
    [
        '<polygon points="0,50 40,50 40,20 20,20 20,30 0,30"/>',
        '<path d="M0 50 H40 V20 H20 V30 H0 Z"/>',
        '<path d="m0,50 h40 v-30 h-20 v10 l-20 0 z"/>',
        '<g transform="translate(0 50)"><g transform="scale(2,-2)">'
        '<polygon points="0,0 20,0 20,15 10,15 10,10 0,10"/></g></g>',
        '<polygon transform="rotate(90) translate(50 0) rotate(-90)" '
        'points="0,0 40,0 40,-30 20,-30 20,-20 0,-20"/>',
    ],
)
def test_from_svg(inner: str) -> None:
    """SVG counts downwards and has no scale: it is turned up, and the scale is asked."""
    answers = ALWAYS | {"scale": "1"}
    table = TABLE.replace(",1,1,", ",1,-49,").replace(",30,25,", ",30,-25,")
    plan, asked = imported(table, answers, outline=svg(inner))
    assert "scale" in asked
    found = outline_of(plan)
    assert same(shapely.affinity.translate(found, 0, 50))


def test_curves_are_told() -> None:
    """A rounded floor is not made a polygon of unseen; the rectangle beside it is taken."""
    drawing = svg(
        '<path d="M0 0 C 1 1 2 2 3 3 Z"/><circle r="4"/><rect width="40" height="40" y="0"/>'
    )
    table = TABLE.replace(",1,1,", ",1,-1,").replace(",25,", ",-25,")
    plan, _ = imported(table, ALWAYS | {"scale": "1"}, outline=drawing)
    assert {left.what for left in plan.left} >= {"path", "circle"}
    assert same(outline_of(plan), [(0, 0), (40, 0), (40, -40), (0, -40)])


def test_geojson_with_a_hole() -> None:
    """A polygon's hole is no floor; a unit that nobody tells is asked."""
    hole = [(5, 5), (5, 10), (10, 10), (10, 5)]
    data = json.dumps({"type": "FeatureCollection", "features": [feature(L_SHAPE, hole)]}).encode()
    plan, asked = imported(TABLE, ALWAYS | {"unit.drawing": "ft"}, outline=data)
    assert "unit.drawing" in asked
    (area,) = plan.book.areas
    assert area.id == "house"
    assert np.array(area.holes[0]).tolist() == np.array(hole).tolist()


@pytest.mark.parametrize(("answer", "holes"), [("leave", 0), ("holes", 1)])
def test_what_lies_within_is_asked(answer: str, holes: int) -> None:
    """A closed line within the outline may be furniture or a light well."""
    inner = [(5, 5), (8, 5), (8, 8), (5, 8)]
    data = json.dumps(
        {"type": "FeatureCollection", "features": [feature(L_SHAPE), feature(inner)]}
    ).encode()
    answers = ALWAYS | {"unit.drawing": "ft", "inside": answer}
    plan, asked = imported(TABLE, answers, outline=data)
    assert "inside" in asked
    assert len(plan.book.areas[0].holes) == holes
    assert any("within" in left.why for left in plan.left) == (answer == "leave")


def test_into_a_book(book: Book) -> None:
    """A drawing alone replaces the outline of the floor that is named; all else stays."""
    ring = [(0, 0), (50, 0), (50, 40), (0, 40)]
    data = json.dumps(feature(ring)).encode()
    answers = {"unit.drawing": "ft", "area": "house"}
    plan, asked = imported(data, answers, "plan.geojson", into=book)
    assert asked == set(answers)
    assert same(outline_of(plan), ring)
    assert plan.book.readings == book.readings


def test_stations_must_still_stand_on_the_floor(book: Book) -> None:
    """An outline that leaves stations outside is refused by the book's own rules."""
    data = json.dumps(feature([(90, 90), (99, 90), (99, 99)])).encode()
    with pytest.raises(DocumentError) as told:
        imported(data, {"unit.drawing": "ft", "area": "house"}, "plan.geojson", into=book)
    assert {fault.code for fault in told.value.faults} == {"outside"}


def test_alone_it_is_no_book() -> None:
    """An outline without readings says what is needed."""
    with pytest.raises(DocumentError) as told:
        plan_import(dxf(), "plan.dxf")
    assert "book" in told.value.faults[0].remedy


BAD = {
    "no closed line": json.dumps({"type": "FeatureCollection", "features": []}).encode(),
    "crossing itself": json.dumps(feature([(0, 0), (9, 9), (9, 0), (0, 9)])).encode(),
    "no numbers": b'{"type": "Polygon", "coordinates": [[["a", 1], [2, 3], [4, 5]]]}',
    "no coordinates": b'{"type": "Polygon"}',
    "wrong nesting": b'{"type": "Polygon", "coordinates": [1, 2, 3]}',
    "infinite": b'{"type": "Polygon", "coordinates": [[[1e999, 1], [2, 3], [4, 5]]]}',
    "nested without end": b'{"type":"GeometryCollection","geometries":[' * 60 + b"]}" * 60,
    "not closed": svg('<path d="M0 0 L9 9 L9 0"/>'),
    "damaged svg": b"<svg><rect",
    "damaged dxf": b"  0\nSECTION\n  2\nENTITIES\n  0\nLWPOLYLINE\n 10\nabc\n",
    "empty dxf": b"  0\nSECTION\n  2\nENTITIES\n  0\nENDSEC\n  0\nEOF\n",
    "binary dxf": b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(50),
    "entities": svg("<rect/>", '<!DOCTYPE svg [<!ENTITY a "b">]>'),
    "a file from outside": svg("<rect/>", '<!DOCTYPE svg SYSTEM "file:///etc/passwd">'),
}


@pytest.mark.parametrize("name", BAD)
def test_is_refused(name: str, book: Book) -> None:
    """A drawing that cannot be used is refused with place and remedy."""
    answers = {"unit.drawing": "ft", "scale": "1", "area": "house"}
    with pytest.raises(DocumentError) as told:
        imported(BAD[name], answers, "plan", into=book)
    assert told.value.faults[0].code in ("outline", "xml", "not-json")
    assert told.value.faults[0].remedy


def test_a_plain_doctype_is_no_harm(book: Book) -> None:
    """Many drawing programs declare the type of an SVG; that alone is let through."""
    head = (
        '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    )
    drawing = svg('<rect width="50" height="40" y="-40"/>', head)
    plan, _ = imported(drawing, {"scale": "1", "area": "house"}, "plan.svg", into=book)
    assert same(outline_of(plan), [(0, 0), (50, 0), (50, 40), (0, 40)])


def test_arcs_become_short_lines(book: Book) -> None:
    """A bay window drawn as an arc keeps its area to a thousandth."""
    file = ezdxf.new("R2010")
    file.header["$INSUNITS"] = 2
    corners = [(0, 0, 0), (40, 0, 1.0), (40, 30, 0), (0, 30, 0)]  # bulge 1: half a circle
    file.modelspace().add_lwpolyline(corners, format="xyb", close=True)
    out = io.StringIO()
    file.write(out)
    plan, _ = imported(out.getvalue().encode(), {"area": "house"}, "plan.dxf", into=book)
    due = 40 * 30 + np.pi * 15**2 / 2
    assert outline_of(plan).area == pytest.approx(due, rel=1e-3)
