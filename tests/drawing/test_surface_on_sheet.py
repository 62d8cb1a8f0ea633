"""Bands and contours: where they run, what they mean, and how bands are chosen."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from drawing_houses import (
    GARAGE,
    L_SHAPE,
    RECTANGLE,
    Plot,
    area,
    dish,
    dome,
    full_house,
    house,
    tilted,
)
from shapely import LineString, affinity

from levelbook.drawing import plan
from levelbook.drawing.contours import OnSheet, outside, pieces, ticks
from levelbook.drawing.fields import bands, fields, has_low, plane
from levelbook.drawing.frame import Frame, bounds, fit
from levelbook.drawing.house import hatch
from levelbook.drawing.records import Path, Polygon, flatten

ROOM = (5.0, 5.0, 165.0, 125.0)


def on_sheet(plot, kind="levels", **changes):
    """Return one area's field on a sheet, with its frame."""
    parts = house([plot], [30], **changes)
    (found,) = fields(parts, kind)
    frame = fit(bounds(parts.book), ROOM)
    return OnSheet(found, bands(parts, kind, (found,))["A"], frame), frame, parts


def plan_point(frame: Frame, at: np.ndarray) -> np.ndarray:
    """Return sheet points (n, 2) in plan units."""
    return np.column_stack(
        [
            frame.x + (at[:, 0] - frame.left) / frame.scale,
            frame.y - (at[:, 1] - frame.top) / frame.scale,
        ]
    )


@pytest.mark.parametrize("height", [dome, dish, tilted])
def test_contours_run_where_the_floor_has_their_level(height):
    """On every contour the floor's formula gives the contour's level."""
    sheet, frame, parts = on_sheet(Plot(area("house", L_SHAPE), height))
    zero = np.array(next(s.at for s in parts.book.stations))
    lines = list(sheet.lines())
    assert lines
    for contour in lines:
        x, y = plan_point(frame, contour.run).T
        level = height(x, y) - height(*zero)
        assert level == pytest.approx(contour.level, abs=0.02 * sheet.bands.step + 0.004)


def test_nothing_is_drawn_beyond_the_walls():
    """Bands and contours stay on the floor, at the inner corner of an L as well."""
    sheet, _, _ = on_sheet(Plot(area("house", L_SHAPE)))
    walls = sheet.footprint.buffer(0.05)
    for band in sheet.fills():
        for ring in band.rings:
            assert walls.covers(shapely.Polygon(ring).exterior)
    for contour in sheet.lines():
        assert walls.covers(shapely.LineString(contour.run))


def test_holes_stay_empty():
    """A hole in an area has neither band nor contour."""
    hole = ((20.0, 10.0), (28.0, 10.0), (28.0, 18.0), (20.0, 18.0))
    sheet, frame, _ = on_sheet(Plot(area("house", RECTANGLE, holes=[hole])))
    inner = shapely.Polygon(frame.points(hole)).buffer(-0.05)
    assert not any(shapely.LineString(c.run).intersects(inner) for c in sheet.lines())
    first = next(iter(sheet.fills()))
    assert len(first.rings) == 2


def test_every_place_has_the_colour_of_its_level():
    """The topmost band over a place is the one that holds its level."""
    sheet, _, _ = on_sheet(Plot(area("house", RECTANGLE), dish))
    painted = [
        (shapely.Polygon(b.rings[0], b.rings[1:]), b.fill.colour)
        for b in sheet.fills()
        if b.fill is not None
    ]
    edges = np.array(sheet.bands.edges)
    for row in range(3, len(sheet.y) - 3, 7):
        for col in range(3, len(sheet.x) - 3, 7):
            value = sheet.value[row, col]
            if np.abs(edges - value).min() < 0.1 * sheet.bands.step:
                continue
            at = shapely.Point(sheet.x[col], sheet.y[row])
            tops = [tone for shape, tone in painted if _covers(shape, at)]
            assert tops[-1] == sheet.bands.colours[int(np.searchsorted(edges, value)) - 1]


def _covers(shape: shapely.Polygon, at: shapely.Point) -> bool:
    return bool(shapely.make_valid(shape).intersects(at))


def test_ticks_point_into_the_low():
    """Round a low the ticks end lower than they begin; a high has none."""
    sheet, frame, _ = on_sheet(Plot(area("house", RECTANGLE), dish))
    hollow = [c for c in sheet.lines() if c.hollow]
    assert hollow
    assert has_low(sheet.field, sheet.bands)
    for contour in hollow:
        for tick in ticks(contour):
            x, y = plan_point(frame, tick).T
            start, end = dish(x, y)
            assert end < start
    high, _, _ = on_sheet(Plot(area("house", RECTANGLE), dome))
    assert not any(ticks(c) for c in high.lines())
    assert not has_low(high.field, high.bands)


def test_doubtful_contours_are_dashed():
    """A contour is dashed where the 95 % interval is wider than a step, and not elsewhere."""
    # The step is 0.2 in: 1.96 times 0.12 is beyond it, 0.12 itself is not.
    plot = Plot(area("house", RECTANGLE), sd=lambda x, y: np.where(x > 24, 0.12, 0.01) + 0 * y)
    sheet, frame, _ = on_sheet(plot)
    assert sheet.bands.step == pytest.approx(0.2)
    for contour in sheet.lines():
        x = plan_point(frame, contour.run)[:, 0]
        clear = np.abs(x - 24) > 1.0
        assert (contour.unsure[clear] == (x[clear] > 24)).all()
    drawing = plan(house([plot], [30]), width_mm=180)
    pens = {
        s.pen.dash for s in flatten(drawing.items) if isinstance(s, Path) and s.role == "contour"
    }
    assert () in pens
    assert len(pens) == 2


def test_steps_are_never_finer_than_the_readings_bear():
    """A floor within one resolution is one or two bands, not a rainbow."""
    flat = Plot(area("house", RECTANGLE), lambda x, y: 0.0004 * x + 0 * y)
    parts = house([flat], [30])
    found = fields(parts, "levels")
    chosen = bands(parts, "levels", found)["A"]
    assert chosen.step >= 0.1
    assert len(chosen.colours) <= 2


def test_a_doubtful_surface_gets_coarse_steps():
    """Where the surface is unsure the step grows with its standard error."""
    vague = Plot(area("house", RECTANGLE), sd=lambda x, y: 0.45 + 0 * x + 0 * y)
    parts = house([vague], [30])
    assert bands(parts, "levels", fields(parts, "levels"))["A"].step >= 0.45


def test_millimetres_have_steps_of_their_own():
    """In millimetres the step is a round number of millimetres."""
    parts = house([Plot(area("house", RECTANGLE), dish)], [30], units=("mm", "m"), resolution=1.0)
    step = bands(parts, "levels", fields(parts, "levels"))["A"].step
    assert step in {1, 2, 5, 10, 20}


def test_deflection_is_free_of_tilt():
    """Taking the plane away leaves nothing of a tilt, and the same of a dome tilted or not."""
    x, y = np.linspace(0, 10, 11), np.linspace(0, 6, 7)
    gx, gy = np.meshgrid(x, y)
    inside = np.ones(gx.shape, bool)
    slope = 0.3 + 0.02 * gx - 0.05 * gy
    bend = 0.01 * (gx - 4) ** 2
    assert plane(x, y, inside, slope) == pytest.approx(slope)
    rest = bend - plane(x, y, inside, bend)
    assert bend + slope - plane(x, y, inside, bend + slope) == pytest.approx(rest)


@pytest.mark.parametrize("height", [dish, dome])
def test_deflection_bands_lie_evenly_about_zero(height):
    """The middle of the ramp is zero, so that hog and sag have colours of their own."""
    parts = house([Plot(area("house", RECTANGLE), height)], [30])
    (found,) = fields(parts, "deflection")
    edges = bands(parts, "deflection", (found,))["A"].edges
    assert edges[0] == pytest.approx(-edges[-1])
    assert edges[0] <= found.low < 0 < found.high <= edges[-1]


def test_a_floor_with_its_own_zero_is_marked_everywhere():
    """It has its own colours, a hatch, a name that says so, and is not compared."""
    parts = full_house()
    found = fields(parts, "levels")
    chosen = bands(parts, "levels", found)
    assert not set(chosen["A"].colours) & set(chosen["G"].colours)
    shapes = list(flatten(plan(parts, width_mm=190, height_mm=240).items))
    hatch = [s for s in shapes if s.role == "own-zero-hatch"]
    floor = shapely.Polygon(
        next(s for s in shapes if s.role == "ground" and _is(s, GARAGE)).rings[0]
    )
    assert len(hatch) == 1
    assert all(floor.buffer(0.05).covers(shapely.LineString(run)) for run in hatch[0].runs)


@pytest.mark.parametrize("degrees", [5.0, 30.0, 45.0, 110.0])
@pytest.mark.parametrize("outline", [RECTANGLE, L_SHAPE])
def test_the_hatch_of_a_turned_floor_has_no_empty_stroke(outline, degrees):
    """Strokes that pass beside a floor are left out, however it lies on the sheet."""
    floor = affinity.rotate(shapely.Polygon(outline), degrees)
    strokes = hatch(floor)
    assert len(strokes.runs) > 5
    assert all(len(run) == 2 and floor.buffer(0.01).covers(LineString(run)) for run in strokes.runs)


def _is(shape: object, outline: tuple[tuple[float, float], ...]) -> bool:
    """Whether a ground has the proportions of an outline."""
    assert isinstance(shape, Polygon)
    size = np.ptp(shape.rings[0], axis=0)
    want = np.ptp(np.array(outline), axis=0)
    return bool(size[0] / size[1] == pytest.approx(want[0] / want[1]))


def test_runs_make_way_for_text():
    """A line is cut where text stands, and stays whole where none does."""
    run = np.array([[0.0, 5.0], [30.0, 5.0]])
    taken = np.zeros((40, 120), np.uint8)
    assert [len(p) for p in outside(run, taken, 0.3)] == [2]
    taken[10:25, 40:60] = 1
    left, right = outside(run, taken, 0.3)
    assert left[0] == pytest.approx([0, 5])
    assert left[-1, 0] == pytest.approx(12.0, abs=0.61)
    assert right[0, 0] == pytest.approx(18.0, abs=0.61)
    assert right[-1] == pytest.approx([30, 5])


def test_pieces_share_the_points_where_they_meet():
    """Splitting a run by a property loses nothing of it."""
    run = np.column_stack([np.arange(8.0), np.zeros(8)])
    flags = np.array([0, 0, 1, 1, 1, 0, 0, 1], bool)
    parts = list(pieces(run, flags))
    assert [flag for _, flag in parts] == [False, True, False]
    assert parts[0][0][0, 0] == 0
    assert parts[-1][0][-1, 0] == 7
    for (a, _), (b, _) in pairwise(parts):
        assert a[-1] == pytest.approx(b[0])
