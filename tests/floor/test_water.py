"""Water on a grid: filling against a plain priority flood, descent on planes and bowls."""

import heapq

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.morphology import reconstruction

from levelbook.floor.water import make_cells, route


def grid_cells(inside, outlet, dx=1.0, dy=1.0):
    """Return the cells of an evenly spaced grid."""
    ny, nx = inside.shape
    return make_cells(inside, outlet, dx * np.arange(nx), dy * np.arange(ny))


def flood(level, inside, outlet):
    """Fill low spots the plain way: a priority queue grown from the outlets."""
    filled = np.full(level.shape, np.inf)
    queue = [(level[i, j], i, j) for i, j in zip(*np.nonzero(inside & outlet), strict=True)]
    for height, i, j in queue:
        filled[i, j] = height
    heapq.heapify(queue)
    while queue:
        height, i, j = heapq.heappop(queue)
        for a in range(max(i - 1, 0), min(i + 2, level.shape[0])):
            for b in range(max(j - 1, 0), min(j + 2, level.shape[1])):
                if inside[a, b] and np.isinf(filled[a, b]):
                    filled[a, b] = max(level[a, b], height)
                    heapq.heappush(queue, (filled[a, b], a, b))
    return filled


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 14), st.integers(2, 14), st.integers(1, 3))
def test_filled_levels_equal_a_priority_flood(seed, ny, nx, digits):
    """Random floors with holes, ties and walls fill exactly as the plain method fills them."""
    rng = np.random.default_rng(seed)
    level = rng.random((ny, nx)).round(digits) - 0.5
    inside = rng.random((ny, nx)) < 0.85
    inside[0, 0] = True
    outlet = inside & (rng.random((ny, nx)) < 0.08)
    cells = grid_cells(inside, outlet)
    filled = route(cells, level[inside][None, :]).filled[0]
    np.testing.assert_allclose(filled, flood(level, inside, outlet)[inside], rtol=0, atol=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(3, 30), st.integers(3, 30))
def test_filled_levels_equal_a_morphological_reconstruction(seed, ny, nx):
    """Random floors fill to 1e-9 as reconstruction by erosion from the outlets fills them.

    Source: Soille & Gratin (1994), J. Visual Communication and Image Representation 5(2) 181:
    a marker of infinity but at the outlets, eroded over the floor.
    """
    rng = np.random.default_rng(seed)
    level = np.cumsum(rng.standard_normal((ny, nx)), axis=0)
    outlet = rng.random((ny, nx)) < 0.03
    outlet[0, 0] = True
    marker = np.where(outlet, level, level.max() + 1.0)
    expected = reconstruction(marker, level, method="erosion", footprint=np.ones((3, 3)))
    cells = grid_cells(np.ones((ny, nx), bool), outlet)
    filled = route(cells, level.ravel()[None, :]).filled[0].reshape(ny, nx)
    np.testing.assert_allclose(filled, expected, rtol=0, atol=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_the_way_out_never_climbs_above_the_full_level(seed):
    """Every cell's way out ends at an outlet and stays at or below the cell's full level."""
    rng = np.random.default_rng(seed)
    inside = np.ones((9, 11), bool)
    outlet = np.zeros_like(inside)
    outlet[0, 3:6] = True
    level = rng.random((2, 99))
    routing = route(grid_cells(inside, outlet), level)
    for draw in range(2):
        for start in range(99):
            cell, steps = start, 0
            while routing.spill[draw, cell] >= 0:
                cell, steps = routing.spill[draw, cell], steps + 1
                assert level[draw, cell] <= routing.filled[draw, start]
                assert steps <= 99
            assert outlet.ravel()[cell]


def test_draws_are_routed_apart():
    """Routing many floors at once gives what each gives alone."""
    rng = np.random.default_rng(3)
    inside = rng.random((8, 8)) < 0.9
    outlet = inside & (rng.random((8, 8)) < 0.1)
    cells = grid_cells(inside, outlet, 1.0, 2.0)
    level = rng.random((5, inside.sum()))
    together = route(cells, level)
    for k in range(5):
        alone = route(cells, level[k : k + 1])
        for name in ("receiver", "end", "filled", "spill"):
            np.testing.assert_array_equal(getattr(together, name)[k], getattr(alone, name)[0])


@pytest.mark.parametrize(("fall", "share"), [(-1.0, 1.0), (1.0, 0.0)])
def test_a_plane_drains_to_the_door_or_not_at_all(fall, share):
    """A plane falling to the door sends everything there; falling away, nothing."""
    y, x = np.mgrid[0:21, 0:20]
    outlet = y == 20
    level = (fall * y + 0.3 * x).ravel()[None, :]
    cells = grid_cells(np.ones((21, 20), bool), outlet)
    routing = route(cells, level)
    inland = ~cells.outlet
    assert cells.outlet[routing.end[0]][inland].mean() == share
    if share:
        np.testing.assert_array_equal(routing.filled, level)


def test_a_bowl_holds_water_up_to_its_lip():
    """A drop in a bowl rests at its bottom, and the bowl fills to its lowest lip."""
    y, x = np.mgrid[0:21, 0:21] - 10
    level = np.minimum(0.01 * (x**2 + y**2), 0.25).ravel()[None, :]
    outlet = (y == -10) & (abs(x) < 3)
    routing = route(grid_cells(np.ones((21, 21), bool), outlet), level)
    middle = 10 * 21 + 10
    assert routing.end[0, middle - 2] == middle
    assert routing.filled[0, middle] - level[0, middle] == pytest.approx(0.25)


def test_steps_count_by_their_length():
    """The steeper way wins, not the deeper one, and spacing counts."""
    level = np.array([[0.0, -1.0, -1.9, -1.2]])
    cells = grid_cells(np.ones((2, 2), bool), np.zeros((2, 2), bool), 1.0, 2.0)
    # From the first cell: right 1.0 over 1, up 1.9 over 2, diagonal 1.2 over the root of 5.
    assert route(cells, level).receiver[0, 0] == 1
    assert np.isinf(route(cells, level).filled).all()
