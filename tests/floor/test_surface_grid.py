"""The surface on a grid and its contours."""

from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose

from levelbook.floor.grid import contour_interval, contours, make_grid

OUTLINE = ((0.0, 0.0), (40.0, 0.0), (40.0, 18.0), (22.0, 18.0), (22.0, 30.0), (0.0, 30.0))
HOLE = ((4.0, 4.0), (10.0, 4.0), (10.0, 9.0), (4.0, 9.0))


@dataclass
class Known:
    """A known height with the interface of a surface."""

    height: object

    def predict(self, at):
        return self.height(at), np.full(len(at), 0.02)


PLANE = Known(lambda at: 0.05 * at[:, 0] - 1.0)
CONE = Known(lambda at: np.hypot(at[:, 0] - 15.0, at[:, 1] - 14.0) / 4.0)


@pytest.fixture(scope="module")
def plane():
    return make_grid(PLANE, OUTLINE, (HOLE,), cells=80)


def test_cells_are_square_and_cover_the_footprint(plane):
    """The grid spans the bounding box with equal steps both ways."""
    assert (plane.x[0], plane.x[-1], plane.y[0], plane.y[-1]) == (0.0, 40.0, 0.0, 30.0)
    assert len(plane.x) == 81
    assert_allclose(np.diff(plane.x)[0], np.diff(plane.y)[0])
    assert plane.mean.shape == plane.sd.shape == plane.inside.shape == (61, 81)


def test_inside_is_the_outline_less_its_holes(plane):
    """Nodes in the notch and the hole are outside, and those far outside have no value."""
    polygon = shapely.Polygon(OUTLINE, (HOLE,))
    for i, j in np.ndindex(plane.inside.shape):
        at = shapely.Point(plane.x[j], plane.y[i])
        assert plane.inside[i, j] == polygon.intersects(at)
    assert np.isfinite(plane.mean[plane.inside]).all()
    assert np.isnan(plane.mean[-1, -1])
    assert plane.mean[10, 40] == pytest.approx(0.0)


def test_contours_of_a_plane_stand_where_they_should(plane):
    """Lines of a plane are straight, at every multiple, clipped at walls and hole."""
    lines = contours(plane, OUTLINE, 0.25, holes=(HOLE,))
    assert [c.level for c in lines] == sorted(c.level for c in lines)
    assert {c.level for c in lines} == {-0.75, -0.5, -0.25, 0.0, 0.25, 0.5, 0.75}
    lengths = dict.fromkeys((-0.75, 0.0, 0.5), 0.0)
    for line in lines:
        assert_allclose(0.05 * line.line[:, 0] - 1.0, line.level, atol=1e-9)
        if line.level in lengths:
            lengths[line.level] += shapely.LineString(line.line).length
    assert_allclose([lengths[-0.75], lengths[0.0], lengths[0.5]], [25.0, 30.0, 18.0])
    assert len([c for c in lines if c.level == -0.75]) == 2  # above and below the hole


def test_closed_contours_stay_whole():
    """A ring inside the footprint comes as one closed line of the right length."""
    grid = make_grid(CONE, OUTLINE, cells=160)
    ring = [c for c in contours(grid, OUTLINE, 1.0) if c.level == 2.0]
    assert len(ring) == 1
    assert_allclose(ring[0].line[0], ring[0].line[-1])
    assert_allclose(shapely.LineString(ring[0].line).length, 2 * np.pi * 8.0, rtol=1e-3)


def test_contours_reach_the_walls():
    """Lines are not cut short of the wall by the grid: ends lie on the outline."""
    grid = make_grid(CONE, OUTLINE, cells=37)
    edge = shapely.Polygon(OUTLINE).exterior
    open_lines = [
        c.line for c in contours(grid, OUTLINE, 1.0) if not np.allclose(c.line[0], c.line[-1])
    ]
    assert open_lines
    for line in open_lines:
        assert edge.distance(shapely.Point(line[0])) < 1e-9
        assert edge.distance(shapely.Point(line[-1])) < 1e-9


def test_other_fields_of_the_grid(plane):
    """Contours can be drawn of the sd, and a constant field has none."""
    assert contours(plane, OUTLINE, 0.01, values=plane.sd) == ()
    doubled = contours(plane, OUTLINE, 0.25, holes=(HOLE,), values=2 * plane.mean)
    assert max(c.level for c in doubled) == 1.75


@pytest.mark.parametrize(
    ("spread", "unit", "most", "expected"),
    [
        (0.0, "in", 10, 0.05),
        (0.9, "in", 10, 0.1),
        (1.0, "in", 10, 0.1),
        (2.3, "in", 10, 0.25),
        (2.3, "in", 6, 0.5),
        (24.0, "mm", 10, 5.0),
        (9.0, "mm", 10, 1.0),
        (1e6, "mm", 10, 200.0),
    ],
)
def test_intervals_are_customary(spread, unit, most, expected):
    """The smallest customary interval that keeps to the number of lines is taken."""
    assert contour_interval(spread, unit, most) == expected


def test_a_grid_too_coarse_to_meet_the_floor_has_no_contours():
    """With no node on the footprint there is nothing to draw, and nothing breaks."""
    diamond = ((0.0, 10.0), (10.0, 0.0), (20.0, 10.0), (10.0, 20.0))
    grid = make_grid(PLANE, diamond, cells=1)
    assert not grid.inside.any()
    assert contours(grid, diamond, 0.1) == ()
