"""Walls, corners and sums over the floor of one area."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from known_floors import ELL, RECTANGLE, floor_of, moved
from numpy.testing import assert_allclose

from levelbook.floor.footprint import straight_edges

ANGLES = st.floats(0.0, 360.0)


def test_neighbouring_edges_in_line_are_one_wall():
    """A corner on a straight wall does not cut it, whether first in the ring or not."""
    ring = [(20.0, 0.0), (40.0, 0.0), (40.0, 10.0), (40.0, 28.0), (0.0, 28.0), (0.0, 0.0)]
    walls = straight_edges(ring)
    assert sorted(np.hypot(*(walls[:, 1] - walls[:, 0]).T)) == [28.0, 28.0, 40.0, 40.0]


def test_walls_run_anticlockwise_whichever_way_the_outline_was_drawn():
    """The shoelace sum of the walls is positive for both senses of the same outline."""
    for ring in (ELL, ELL[::-1]):
        a, b = straight_edges(ring).transpose(1, 0, 2)
        assert (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / 2 == pytest.approx(40 * 14 + 22 * 16)


def test_a_wall_that_turns_back_on_itself_keeps_its_end():
    """A spike of no width does not count as a straight continuation."""
    walls = straight_edges([(0, 0), (10, 0), (10, 10), (10, 14), (10, 10), (0, 10)])
    assert (walls[:, 0] == (10.0, 14.0)).all(axis=1).any()


@pytest.mark.parametrize(("turn", "walls"), [(0.4, 4), (0.6, 5)])
def test_half_a_degree_tells_two_walls_from_one(turn, walls):
    """Edges that turn by less than half a degree are one wall, by more two."""
    rise = 20 * np.tan(np.radians(turn))
    assert len(straight_edges([(0, 0), (20, 0), (40, rise), (40, 28), (0, 28)])) == walls


def test_corners_are_where_walls_turn():
    """The L has six corners, the re-entrant one among them."""
    assert_allclose(sorted(floor_of(ELL).corners(3.0).tolist()), sorted(map(list, ELL)))


def test_a_jog_makes_no_corner_and_a_cut_corner_one():
    """A 2 ft step in a wall is passed over; a 2 ft chamfer leaves its corner midway."""
    stepped = ((0, 0), (20, 0), (20, 2), (40, 2), (40, 28), (2, 28), (0, 26))
    corners = floor_of(stepped).corners(3.0)
    assert_allclose(sorted(corners.tolist()), [[0, 0], [1, 27], [40, 2], [40, 28]])


def test_a_tiny_floor_keeps_its_corners():
    """Where every wall is shorter than a jog, all walls count."""
    assert len(floor_of(((0, 0), (2, 0), (2, 2), (0, 2))).corners(3.0)) == 4


@pytest.mark.parametrize("count", [1, 40, 300])
def test_cells_sum_linear_functions_exactly(count):
    """Shares sum to 1 and the centroid of the cells is the centroid of the floor, hole left out."""
    hole = ((4.0, 4.0), (10.0, 5.0), (7.0, 9.0))
    floor = floor_of(ELL, (hole,))
    cells = floor.cells(count)
    assert cells.share.sum() == pytest.approx(1.0, abs=1e-12)
    centre = floor.polygon.centroid
    assert_allclose(cells.share @ cells.xy, [centre.x, centre.y], rtol=1e-12)
    assert floor.area == pytest.approx(40 * 14 + 22 * 16 - 13.5)


def test_cells_are_about_as_many_as_asked():
    """Clipping adds some; the number stays near."""
    assert 300 <= len(floor_of(ELL).cells(300).xy) <= 400


def test_cells_of_a_spider_stay_few():
    """A thin floor in a large box does not take cells without end."""
    thin = ((0, 0), (100, 0), (100, 0.1), (0.1, 0.1), (0.1, 100), (0, 100))
    assert 0 < len(floor_of(thin).cells(300).xy) < 300


@given(ANGLES, st.floats(-200, 200), st.floats(-200, 200))
def test_cells_turn_and_move_with_the_outline(angle, dx, dy):
    """The same floor turned and moved has the same cells, turned and moved."""
    still = floor_of(ELL).cells(100)
    there = floor_of(tuple(map(tuple, moved(ELL, angle, (dx, dy)).tolist()))).cells(100)
    assert_allclose(there.xy, moved(still.xy, angle, (dx, dy)), atol=1e-8)
    assert_allclose(there.share, still.share, atol=1e-11)


def test_extent_is_along_and_across_the_longest_wall():
    """Turned by 30° the rectangle is still 40 by 28."""
    turned = floor_of(tuple(map(tuple, moved(RECTANGLE, 30.0, (3, -8)).tolist())))
    assert turned.extent == pytest.approx((40.0, 28.0))
    assert turned.shorter_side == pytest.approx(28.0)


@pytest.mark.parametrize(("turn", "corners"), [(25.0, 4), (45.0, 5)])
def test_a_gentle_turn_of_a_wall_is_no_corner(turn, corners):
    """Below 30° the wall is bent, above it has a corner."""
    rise = 20 * np.tan(np.radians(turn))
    outline = ((0, 0), (20, 0), (40, rise), (40, 60), (0, 60))
    assert len(floor_of(outline).corners(3.0)) == corners


def test_a_corner_written_twice_is_one():
    """An edge of no length is dropped."""
    ring = [(0, 0), (40, 0), (40, 0), (40, 28), (0, 28), (0, 28)]
    assert len(straight_edges(ring)) == 4


def test_walls_of_holes_are_told_apart():
    """Four walls round a hole of 6 by 5, none without one."""
    hole = ((4.0, 4.0), (10.0, 4.0), (10.0, 9.0), (4.0, 9.0))
    walls = floor_of(RECTANGLE, (hole,)).hole_walls
    assert sorted(np.hypot(*(walls[:, 1] - walls[:, 0]).T)) == [5.0, 5.0, 6.0, 6.0]
    assert floor_of(RECTANGLE).hole_walls.shape == (0, 2, 2)


def test_cells_are_square_but_for_the_edge():
    """On a floor of 40 by 28 cut in 280 every cell is 2 by 2, so all shares are equal."""
    cells = floor_of(RECTANGLE).cells(280)
    assert len(cells.xy) == 280
    assert_allclose(cells.share, 1 / 280)
    assert_allclose(sorted(set(np.round(cells.xy[:, 0], 9))), np.arange(1.0, 40.0, 2.0))
