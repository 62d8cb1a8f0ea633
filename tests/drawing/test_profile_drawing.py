"""Profiles: the floor, its band, its chord and its deflection where they belong."""

import numpy as np
import pytest
import shapely
from drawing_houses import RECTANGLE, Plot, area, dish, dome, line_profile, tilted

from levelbook.book.model import Units
from levelbook.drawing import profile
from levelbook.drawing.records import Drawing, Line, Path, Polygon, Text, flatten

UNITS = Units(level="in", plan="ft")
LINE = ((1.0, 15.0), (47.0, 15.0))


def drawn(height=dome, **more) -> Drawing:
    """Return the drawing of a formula's profile along the house."""
    return profile(line_profile(Plot(area("house", RECTANGLE), height), LINE), UNITS, **more)


def role(drawing: Drawing, name: str) -> list:
    """Return the shapes that stand for something."""
    return [s for s in flatten(drawing.items) if s.role == name]


def test_floor_chord_and_band_are_to_one_scale():
    """The chord joins the floor's ends, the band holds the floor, the arrow spans the two."""
    drawing = drawn()
    (floor,) = role(drawing, "floor")
    (chord,) = role(drawing, "chord")
    (band,) = role(drawing, "interval")
    assert isinstance(floor, Path)
    assert isinstance(band, Polygon)
    assert chord.a == pytest.approx(floor.runs[0][0])
    assert chord.b == pytest.approx(floor.runs[0][-1])
    inside = shapely.Polygon(band.rings[0]).buffer(1e-6)
    assert inside.covers(shapely.LineString(floor.runs[0]))


@pytest.mark.parametrize(("height", "sign"), [(dome, -1), (dish, 1)])
def test_the_arrow_goes_from_chord_to_floor(height, sign):
    """Up for a hog, down for a sag, and as long as the deflection."""
    drawing = drawn(height)
    line = line_profile(Plot(area("house", RECTANGLE), height), LINE)
    (floor,), (chord,) = role(drawing, "floor"), role(drawing, "chord")
    shaft, head = role(drawing, "arrow")
    tip = head.rings[0][0]
    run = floor.runs[0]
    per_level = (run[0, 1] - run[-1, 1]) / (line.level[-1] - line.level[0])
    assert (shaft.a[1] - tip[1]) / per_level == pytest.approx(line.deflection, rel=1e-6)
    assert np.sign(tip[1] - shaft.a[1]) == sign
    share = (shaft.a[0] - chord.a[0]) / (chord.b[0] - chord.a[0])
    assert shaft.a[1] == pytest.approx(chord.a[1] + share * (chord.b[1] - chord.a[1]), abs=1e-6)


@pytest.mark.parametrize("height", [dome, dish])
@pytest.mark.parametrize("size", [(180, 62), (95.25, 70)])
def test_the_arrow_and_its_figure_stand_apart(height, size):
    """The figure stands beside the arrow, not over it."""
    drawing = drawn(height, width_mm=size[0], height_mm=size[1])
    (figure,), shaft = role(drawing, "deflection"), role(drawing, "arrow")[0]
    assert not shapely.Polygon(figure.corners()).intersects(shapely.LineString([shaft.a, shaft.b]))


def test_the_figures_are_told_with_their_uncertainty():
    """Length, deflection with its interval, ratio with its interval, and the word for it."""
    drawing = drawn(name="Rear wall")
    said = " ".join(t.text for t in role(drawing, "heading")).replace("\u00a0", " ")
    line = line_profile(Plot(area("house", RECTANGLE), dome), LINE)
    assert said.startswith("Rear wall 46.0 ft long, deflection ")
    assert f"+{line.deflection:.2f} ± 0.16 in (95 %), 1 in " in said
    assert "hog, the middle is high" in said
    assert "deflection" in drawing.description


def test_a_plane_has_no_deflection_to_show():
    """A straight floor has neither arrow nor figure."""
    line = line_profile(Plot(area("house", RECTANGLE), lambda x, y: 0 * x), LINE)
    drawing = profile(line, UNITS)
    assert line.deflection == 0.0
    assert not role(drawing, "arrow")
    assert "no deflection" in drawing.description


def test_a_level_floor_is_not_blown_up():
    """Heights cover at least half an inch, so that a hundredth does not look like a hill."""
    drawing = drawn(lambda x, y: 0.0001 * x, name="x")
    (floor,) = role(drawing, "floor")
    assert np.ptp(floor.runs[0][:, 1]) < 1.0


@pytest.mark.parametrize("size", [(180, 62), (95.25, 70), (120, 50)])
@pytest.mark.parametrize("height", [dome, dish, tilted])
@pytest.mark.parametrize("units", [("in", "ft"), ("mm", "m")])
def test_texts_stand_apart(size, height, units):
    """No text touches another or leaves the sheet."""
    scale = 1.0 if units[0] == "in" else 25.4
    line = line_profile(Plot(area("house", RECTANGLE), height), LINE, scale)
    unit = Units.model_validate({"level": units[0], "plan": units[1]})
    name = "A long name for a wall " * 4
    drawing = profile(line, unit, name=name, width_mm=size[0], height_mm=size[1])
    texts = [s for s in flatten(drawing.items) if isinstance(s, Text)]
    boxes = [shapely.Polygon(t.corners()).buffer(-0.02) for t in texts]
    sheet = shapely.box(0, 0, *size)
    assert all(sheet.covers(box) for box in boxes)
    for k, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[k + 1 :])


def test_stretching_of_heights_is_told():
    """The note says how much larger heights are drawn than lengths."""
    drawing = drawn()
    (floor,) = role(drawing, "floor")
    line = line_profile(Plot(area("house", RECTANGLE), dome), LINE)
    run = floor.runs[0]
    up = abs((run[0, 1] - run[-1, 1]) / (line.level[-1] - line.level[0]))
    along = (run[-1, 0] - run[0, 0]) / (12 * line.length)
    note = " ".join(t.text for t in role(drawing, "note"))
    told = float(note.split("about ")[1].split(" times")[0])
    assert told == pytest.approx(up / along, rel=0.15)


def test_grid_lines_are_where_their_figures_say():
    """Each level's grid line is as far from the floor's start as the figures say."""
    drawing = drawn()
    line = line_profile(Plot(area("house", RECTANGLE), dome), LINE)
    run = role(drawing, "floor")[0].runs[0]
    per = (run[0, 1] - run[-1, 1]) / (line.level[-1] - line.level[0])
    rows = [g for g in role(drawing, "grid") if isinstance(g, Line) and g.a[1] == g.b[1]][:-1]
    figures = [t for t in role(drawing, "scale") if t.anchor == "end"]
    assert len(rows) == len(figures) >= 3
    for row, figure in zip(rows, figures, strict=True):
        level = float(figure.text.split()[0].replace("−", "-"))
        assert row.a[1] == pytest.approx(run[0, 1] - per * (level - line.level[0]), abs=1e-6)
