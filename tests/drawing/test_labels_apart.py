"""Labels do not collide: checked on the geometry of what is drawn, size by size."""

import numpy as np
import pytest
import shapely
from drawing_houses import (
    GARAGE,
    L_SHAPE,
    LONG_THIN,
    RECTANGLE,
    Plot,
    area,
    dish,
    full_house,
    house,
    tilted,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from levelbook.drawing import Drawing, Parts, plan
from levelbook.drawing.labels import place, text_label
from levelbook.drawing.occupancy import Occupancy
from levelbook.drawing.records import Circle, Group, Line, Pen, Text, flatten
from levelbook.errors import UsageError

LETTER, A4, HALF, PHONE = (190.0, 240.0), (182.0, 255.0), (180.0, 118.0), (95.25, None)


def texts(drawing: Drawing) -> list[Text]:
    """Return the texts of a drawing."""
    return [shape for shape in flatten(drawing.items) if isinstance(shape, Text)]


def boxes(found: list[Text]) -> np.ndarray:
    """Return the room that texts take, a hair smaller so that touching is no overlap."""
    return np.array([shapely.Polygon(text.corners()).buffer(-0.02) for text in found])


def overlaps(drawing: Drawing) -> list[tuple[str, str]]:
    """Return the pairs of texts that lie over each other."""
    found = texts(drawing)
    tree = shapely.STRtree(boxes(found))
    first, second = tree.query(boxes(found), predicate="intersects")
    return [(found[i].text, found[j].text) for i, j in zip(first, second, strict=True) if i < j]


def off_sheet(drawing: Drawing) -> list[str]:
    """Return the texts that are not wholly on the sheet."""
    sheet = shapely.box(0, 0, drawing.width, drawing.height)
    return [
        text.text for text in texts(drawing) if not sheet.contains(shapely.Polygon(text.corners()))
    ]


def numbered(drawing: Drawing) -> int:
    """Return how many levels are written."""
    return sum(text.role == "level" for text in texts(drawing))


def single(outline: tuple[tuple[float, float], ...], count: int) -> Parts:
    """Return a house of one area."""
    return house([Plot(area("house", outline), dish)], [count], north=10.0)


def several() -> Parts:
    """Return a house of four areas, two of them on a zero of their own."""
    left = ((0.0, 0.0), (12.0, 0.0), (12.0, 10.0), (0.0, 10.0))
    plots = [
        Plot(area("main floor", tuple((x, y + 11) for x, y in RECTANGLE))),
        Plot(area("garage", tuple((x + 20, y - 8) for x, y in GARAGE), "garage"), tilted, "G"),
        Plot(area("porch", left, "porch"), tilted, "P"),
        Plot(area("store", tuple((x + 13, y) for x, y in left), "other"), shaped=False),
    ]
    return house(plots, [60, 12, 6, 3])


HOUSES = {
    "20 stations": lambda: single(RECTANGLE, 20),
    "60 stations, L": lambda: single(L_SHAPE, 60),
    "150 stations, L": lambda: single(L_SHAPE, 150),
    "150 stations": lambda: single(RECTANGLE, 150),
    "long thin": lambda: single(LONG_THIN, 70),
    "four areas": several,
    "everything": full_house,
}


@pytest.mark.parametrize("kind", ["levels", "error", "deflection"])
@pytest.mark.parametrize("size", [LETTER, A4, HALF, PHONE], ids=["letter", "a4", "half", "phone"])
@pytest.mark.parametrize("name", HOUSES)
def test_no_text_touches_another_or_leaves_the_sheet(name, size, kind):
    """On every size of sheet all texts stand apart and wholly on it."""
    drawing = plan(HOUSES[name](), kind=kind, width_mm=size[0], height_mm=size[1])
    assert overlaps(drawing) == []
    assert off_sheet(drawing) == []


@pytest.mark.parametrize("size", [LETTER, A4], ids=["letter", "a4"])
@pytest.mark.parametrize("name", HOUSES)
def test_paper_shows_every_level(name, size):
    """On a full page no level is left out, however many there are."""
    parts = HOUSES[name]()
    drawing = plan(parts, width_mm=size[0], height_mm=size[1])
    assert drawing.unnumbered == ()
    assert numbered(drawing) == len(parts.levels.stations)


def test_a_phone_keeps_every_dot_and_says_what_it_leaves_out():
    """Where a phone has no room the dots stay, and the legend says that numbers are missing."""
    parts = single(RECTANGLE, 150)
    drawing = plan(parts, width_mm=95.25)
    dots = [s for s in flatten(drawing.items) if isinstance(s, Circle) and s.role == "station-dot"]
    legend = " ".join(text.text for text in texts(drawing) if text.role == "legend")
    assert drawing.unnumbered
    assert numbered(drawing) + len(drawing.unnumbered) == 150
    # High, low and zero have symbols of their own; the legend shows two sample dots.
    assert len(dots) == 150 - 3 + 2
    assert "dot without a number" in legend


def test_a_sheet_with_room_for_all_says_nothing_of_missing_numbers():
    """The words on missing numbers appear only where numbers are missing."""
    drawing = plan(single(RECTANGLE, 30), width_mm=95.25)
    assert drawing.unnumbered == ()
    assert not any("without a number" in text.text for text in texts(drawing))


def test_high_low_and_zero_are_numbered_even_on_a_crowded_phone():
    """What matters most gets its number first."""
    parts = single(RECTANGLE, 150)
    shape = parts.floor.areas["house"]
    drawing = plan(parts, width_mm=95.25)
    kept = {parts.book.reference.station, shape.range.high, shape.range.low}
    assert not kept & set(drawing.unnumbered)


LONG = "a very long name " * 8
HOSTILE = [
    "<script>alert('x')</script>" * 3,
    "مدخل البيت الأمامي",
    "🏠🔥💧 sump",
    LONG,
    "first line\nsecond\u2028third",
]


@pytest.mark.parametrize("words", HOSTILE, ids=["markup", "rtl", "emoji", "long", "lines"])
@pytest.mark.parametrize("size", [LETTER, PHONE], ids=["letter", "phone"])
def test_hostile_words_stay_apart_as_well(words, size):
    """Long names, markup, other scripts and emoji take room like any other text."""
    parts = full_house(
        marks=[{"kind": "other", "at": (10.0 + 9 * k, 20.0), "label": words} for k in range(3)],
        sections=[{"id": " ".join(words.split())[:60], "line": ((1, 30), (53, 30))}],
    )
    drawing = plan(parts, width_mm=size[0], height_mm=size[1])
    assert overlaps(drawing) == []
    assert off_sheet(drawing) == []


@settings(max_examples=40)
@given(
    count=st.integers(4, 120),
    wide=st.floats(12, 90),
    deep=st.floats(10, 70),
    width=st.floats(90, 270),
    height=st.one_of(st.none(), st.floats(110, 300)),
)
def test_labels_stand_apart_for_any_house_and_sheet(count, wide, deep, width, height):
    """Whatever the house and the sheet, no text touches another or leaves the sheet."""
    outline = ((0.0, 0.0), (wide, 0.0), (wide, deep), (0.0, deep))
    count = min(count, int(wide * deep / 8))
    drawing = plan(single(outline, max(4, count)), width_mm=width, height_mm=height)
    assert overlaps(drawing) == []
    assert off_sheet(drawing) == []


@pytest.mark.parametrize("size", [LETTER, HALF], ids=["letter", "half"])
def test_levels_stand_outside_the_neighbouring_floor(size):
    """A level of one area is never written on the floor of another."""
    plots = [Plot(area("house", L_SHAPE)), Plot(area("garage", GARAGE, "garage"), tilted, "G")]
    parts = house(plots, [75, 16])
    drawing = plan(parts, width_mm=size[0], height_mm=size[1])
    grounds = [s for s in flatten(drawing.items) if s.role == "ground"]
    floors = {
        a.id: shapely.Polygon(g.rings[0]) for a, g in zip(parts.book.areas, grounds, strict=True)
    }
    area_of = {station.id: station.area for station in parts.book.stations}
    for group in stations(drawing):
        for text in (t for t in group.items if isinstance(t, Text)):
            box = shapely.Polygon(text.corners())
            for name, floor in floors.items():
                if name != area_of[group.id]:
                    assert box.intersection(floor).area < 0.3 * box.area, (group.id, name)


def stations(drawing: Drawing) -> list[Group]:
    """Return the groups of the stations."""
    return [g for g in drawing.items if isinstance(g, Group) and g.role == "station"]


@pytest.mark.parametrize("size", [HALF, PHONE], ids=["half", "phone"])
def test_leaders_cross_no_other_text(size):
    """A leader runs from its own dot to its own label and through nobody else's."""
    drawing = plan(single(L_SHAPE, 110), width_mm=size[0], height_mm=size[1])
    found = texts(drawing)
    room = boxes(found)
    leaders = [s for s in flatten(drawing.items) if isinstance(s, Line) and s.role == "leader"]
    assert leaders
    for leader in leaders:
        line = shapely.LineString([leader.a, leader.b])
        assert [t.text for t, box in zip(found, room, strict=True) if line.intersects(box)] == []


def test_a_leader_goes_through_nothing():
    """With free room only behind a bar that is taken, no label is placed at all."""
    pen, text = Pen("#000000", 0.1), Text((0, 0), "−0.85", 2.3, "#000000")
    label = text_label(text, (30.0, 29.0), clear=0.6, reach=20.0)
    for barred in (True, False):
        sheet = Occupancy(60.0, 40.0)
        sheet.take((0.0, 29.5, 60.0, 40.0))
        if barred:
            sheet.take((0.0, 26.0, 60.0, 28.5), text=True)
        assert (place(label, sheet, pen) is None) == barred


def test_a_leader_may_leave_the_symbol_it_comes_from():
    """A mark under a sign does not keep the sign from having a leader."""
    sheet, pen = Occupancy(60.0, 40.0), Pen("#000000", 0.1)
    sheet.take_disc((30.0, 20.0), 1.6)
    text = Text((0, 0), "crack", 2.3, "#000000")
    placed = place(text_label(text, (30.0, 20.0), clear=0.0, reach=20.0), sheet, pen)
    assert placed is not None
    assert placed.leader is not None


CROWD = [
    {"id": f"d{k}", "kind": "crack", "element": "tile", "at": (20.0 + 0.4 * k, 20.0)}
    for k in range(12)
]


@pytest.mark.parametrize("size", [LETTER, HALF, PHONE], ids=["letter", "half", "phone"])
def test_no_sign_is_lost(size):
    """All signs of distress are numbered, side by side on one spot and on stations as well."""
    parts = full_house(distress=CROWD, sections=[{"id": "S1", "line": ((0.5, 0.5), (53, 30))}])
    places = {s.id: s.at for s in parts.book.stations}
    signs = [{**sign, "at": places[f"ho{k + 2}"]} for k, sign in enumerate(CROWD)]
    for distress in (CROWD, signs):
        parts = full_house(distress=distress)
        drawing = plan(parts, width_mm=size[0], height_mm=size[1])
        numbers = {t.text for t in texts(drawing) if t.role == "distress"}
        assert numbers == {str(k + 1) for k in range(12)}
        assert "S1" in [t.text for t in texts(drawing)]
        assert set(drawing.unplaced) <= {"sump pit"}  # the words of a mark come last
        assert overlaps(drawing) == []


def test_what_finds_no_room_is_told():
    """Words without room on the sheet are named by the drawing, not lost in silence."""
    marks = [{"kind": "note", "at": (20, 20), "label": f"note number {k}"} for k in range(400)]
    drawing = plan(full_house(marks=marks), width_mm=95.25)
    shown = [t.text for t in texts(drawing) if t.role == "mark-label"]
    assert drawing.unplaced
    assert sorted([*shown, *drawing.unplaced]) == sorted(m["label"] for m in marks)


@given(
    boxes=st.lists(
        st.tuples(st.floats(1, 80), st.floats(1, 50), st.floats(0.1, 15), st.floats(0.1, 8)),
        max_size=30,
    )
)
def test_what_the_raster_calls_free_is_free(boxes):
    """Boxes taken one after the other, each only where there is a price, never overlap."""
    sheet, kept = Occupancy(90.0, 60.0), []
    for x, y, wide, tall in boxes:
        box = (x, y, x + wide, y + tall)
        if sheet.price(box) is not None:
            sheet.take(box)
            kept.append(shapely.box(*box))
    for k, first in enumerate(kept):
        assert shapely.box(0, 0, 90, 60).covers(first)
        assert not any(first.intersection(other).area > 0 for other in kept[k + 1 :])


@pytest.mark.parametrize("size", [(60.0, 60.0), (180.0, 60.0), (70.0, 200.0), (120.0, 62.0)])
def test_small_sheets_give_up_the_legend_before_the_plan(size):
    """On a sheet too small for both, the legend is cut and nothing is drawn over anything."""
    drawing = plan(full_house(), width_mm=size[0], height_mm=size[1])
    assert overlaps(drawing) == []
    assert off_sheet(drawing) == []
    assert any(text.role == "scale" for text in texts(drawing))


def test_a_sheet_too_small_for_anything_is_refused():
    """A sheet on which nothing could be read is refused, with the least size."""
    with pytest.raises(UsageError, match="at least 60 by 60 mm"):
        plan(full_house(), width_mm=40, height_mm=40)
