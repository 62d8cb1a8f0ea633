"""Tilt: the plane of the fitted surface over the whole footprint."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_floors import (
    ELL,
    RECTANGLE,
    ROUGH,
    exact,
    floor_of,
    lattice,
    moved,
    sampled,
    surface_of,
    turn,
)
from numpy.testing import assert_allclose

from levelbook.floor.footprint import Cells, Sampled
from levelbook.floor.tilt import downhill, plane_weights, slope_sd, tilt

FACTOR = 1 / 12
FLOOR = floor_of(RECTANGLE)


def tilt_of(surface, floor):
    readings = np.column_stack([surface.xy, surface.level])
    return tilt(sampled(surface, floor), readings, FACTOR)


@given(st.floats(-1, 1), st.floats(-1, 1), st.floats(-50, 50))
@settings(max_examples=20)
def test_a_plane_gives_its_own_gradient(a, b, c):
    """Both planes return the gradient of a plane, in rise over run, to a part in 10⁹."""
    surface = exact(lambda xy: xy @ [a, b] + c, ELL)
    found = tilt_of(surface, floor_of(ELL))
    scale = 1e-9 * (abs(a) + abs(b) + abs(c) / 40 + 1e-3) / 12
    assert_allclose([found.x, found.y], [a / 12, b / 12], rtol=0, atol=scale)
    assert_allclose([found.readings_x, found.readings_y], [a / 12, b / 12], rtol=0, atol=scale)
    assert found.slope == pytest.approx(math.hypot(a, b) / 12, abs=scale)
    assert found.readings_slope == pytest.approx(math.hypot(a, b) / 12, abs=scale)


@pytest.mark.parametrize(
    ("x", "y", "direction"),
    [(0, -1, 0), (-1, 0, 90), (0, 1, 180), (1, 0, 270), (-1, -1, 45), (1, -1, 315)],
)
def test_direction_points_downhill_clockwise_from_up_the_sheet(x, y, direction):
    """Uphill to the right falls to the left: 270°."""
    assert downhill(x, y) == pytest.approx(direction)


def test_a_floor_without_slope_has_no_direction():
    """Exactly 0 points nowhere, and its sd is the root mean square length of the error."""
    assert downhill(0.0, 0.0) is None
    assert slope_sd(np.zeros(2), np.diag([4.0, 2.0])) == pytest.approx(math.sqrt(6.0))


def test_slope_sd_is_the_sd_along_a_clear_slope():
    """Of a slope far from 0 only the variance along it counts, with its covariance."""
    both = np.array([[4.0, 3.0], [3.0, 9.0]])
    for gradient, variance in (((1, 0), 4.0), ((0, -1), 9.0), ((1, 1), (4 + 9 + 6) / 2)):
        assert slope_sd(1e4 * np.array(gradient), both) == pytest.approx(math.sqrt(variance))


@pytest.mark.parametrize("size", [8.0, 16.0])
def test_slope_sd_counts_that_a_length_is_drawn_outward(size):
    """What drawn gradients are longer on average than the true one enters by its square."""
    rng = np.random.default_rng(12)
    drawn = [0.0, size] + rng.standard_normal((400_000, 2)) * [1.5, 0.05]
    outward = np.hypot(*drawn.T).mean() - size
    found = slope_sd(np.array([0.0, size]), np.diag([2.25, 0.0025]))
    assert found**2 - 0.0025 == pytest.approx(outward**2, rel=0.15)
    assert outward > 0.05


def test_slope_sd_of_a_doubtful_slope_stays_bounded():
    """Close to 0 the mean square error of a length is at most that of the gradient."""
    assert slope_sd(np.array([1e-9, 0.0]), np.eye(2)) == pytest.approx(math.sqrt(2.0))


def test_each_square_foot_counts_once_however_dense_the_readings():
    """A step read densely on one side tilts the plain plane, and the floor's plane not."""
    xy = np.concatenate([lattice(step=4.0), lattice(((0, 0), (12, 28)), step=1.0)])
    level = np.where(xy[:, 0] < 20, 0.002 * (20 - xy[:, 0]) ** 2, 0.0)
    even = tilt_of(
        exact(lambda at: np.where(at[:, 0] < 20, 0.002 * (20 - at[:, 0]) ** 2, 0.0)), FLOOR
    )
    dense = tilt_of(surface_of(xy, level), FLOOR)
    # by hand: with t = x - 20, the sum of t · c t² over t < 0 over the sum of t² is -3/8 · 20 c
    assert even.x == pytest.approx(-0.015 / 12, rel=2e-3)
    assert dense.x == pytest.approx(-0.015 / 12, rel=4e-3)
    assert abs(dense.readings_x) > 1.05 * abs(dense.x)


def test_sds_are_those_of_the_weights():
    """A plain loop over the covariance of the cells gives the same sds."""
    rng = np.random.default_rng(4)
    xy = rng.uniform((0, 0), (40, 28), (25, 2))
    surface = surface_of(xy, rng.normal(0, 0.2, 25), ROUGH, sd=0.06)
    pieces = sampled(surface, FLOOR, 60)
    found = tilt(pieces, np.column_stack([xy, surface.level]), FACTOR)
    x, y = (pieces.cells.xy - pieces.cells.share @ pieces.cells.xy).T
    share = pieces.cells.share
    # on a rectangle cut along its walls the moments of x and y part
    wx = share * x / (share @ x**2) * FACTOR
    wy = share * y / (share @ y**2) * FACTOR
    variance = sum(
        wx[i] * wx[j] * pieces.covariance[i, j] for i in range(len(wx)) for j in range(len(wx))
    )
    assert found.x_sd == pytest.approx(math.sqrt(variance))
    assert found.y_sd == pytest.approx(math.sqrt(wy @ pieces.covariance @ wy))
    assert found.x == pytest.approx(wx @ pieces.mean)
    spread = np.array([wx, wy]) @ pieces.covariance @ np.array([wx, wy]).T
    assert found.sd == pytest.approx(slope_sd(np.array([found.x, found.y]), spread))


def test_weights_pay_no_heed_to_a_level_floor():
    """Raising the whole floor changes no gradient, and unequal shares are heeded."""
    cells = Cells(np.array([[0.0, 0], [10, 0], [0, 10], [10, 10]]), np.array([0.4, 0.1, 0.3, 0.2]))
    weights = plane_weights(cells.xy, cells.share)
    assert_allclose(weights.sum(axis=1), 0.0, atol=1e-15)
    assert_allclose(weights @ cells.xy, np.eye(2), atol=1e-14)
    design = np.column_stack([np.ones(4), cells.xy]) * np.sqrt(cells.share)[:, None]
    level = np.array([0.0, 1.0, 0.5, -2.0])
    want = np.linalg.lstsq(design, level * np.sqrt(cells.share), rcond=None)[0][1:]
    assert_allclose(weights @ level, want)


@given(st.floats(0, 360), st.floats(-100, 100))
@settings(max_examples=15)
def test_tilt_turns_with_the_sheet(angle, shift):
    """Turning the plan turns the gradient and leaves slope and sd as they are."""
    rng = np.random.default_rng(5)
    xy = rng.uniform((0, 0), (40, 14), (30, 2))
    level = rng.normal(0, 0.3, 30)
    still = tilt_of(surface_of(xy, level, ROUGH, 0.06), floor_of(ELL))
    outline = tuple(map(tuple, moved(ELL, angle, shift).tolist()))
    there = tilt_of(surface_of(moved(xy, angle, shift), level, ROUGH, 0.06), floor_of(outline))
    assert_allclose([there.x, there.y], turn(angle) @ [still.x, still.y], atol=1e-10)
    assert there.slope == pytest.approx(still.slope, rel=1e-7)
    assert there.sd == pytest.approx(still.sd, rel=1e-6)
    difference = (there.direction + angle - still.direction + 180) % 360 - 180
    assert difference == pytest.approx(0.0, abs=1e-5)


def test_intervals_of_tilt_cover():
    """Over simulated floors of the model the 95 % intervals of both components cover."""
    rng = np.random.default_rng(6)
    xy = rng.uniform((0, 0), (40, 28), (30, 2))
    cells = FLOOR.cells(80)
    places = np.concatenate([xy, cells.xy])
    surface = surface_of(xy, np.zeros(30), ROUGH, 0.06)
    root = np.linalg.cholesky(surface._kernel(places, places) + 1e-10 * np.eye(len(places)))
    weights = plane_weights(cells.xy, cells.share) * FACTOR
    covered = []
    for _ in range(200):
        floor = root @ rng.standard_normal(len(places)) + places @ [0.02, -0.01]
        level = floor[:30] + 0.05 * rng.standard_normal(30) + 0.06 * rng.standard_normal(30)
        known = surface_of(xy, level, ROUGH, 0.06)
        found = tilt(Sampled(cells, *known.joint(cells.xy)), np.column_stack([xy, level]), FACTOR)
        truth = weights @ floor[30:]
        covered.append(abs(found.x - truth[0]) <= 1.96 * found.x_sd)
        covered.append(abs(found.y - truth[1]) <= 1.96 * found.y_sd)
    assert 0.92 <= np.mean(covered) <= 0.98


def test_slope_sd_by_its_formula():
    """Variance along 1, across 4, length 3: 1 + (4 / 6)²."""
    assert slope_sd(np.array([0.0, 3.0]), np.diag([4.0, 1.0])) == pytest.approx(
        math.sqrt(1 + 4 / 9)
    )


def test_the_plain_plane_is_as_sure_as_the_levels():
    """The sd of its slope is that of an ordinary regression on one axis, by hand.

    Four stations at the corners of a 10 by 10 square, each 0.1: the plane along x is half the
    difference of two means of two over 10, so 0.1 / 10 = 0.01 level units a plan unit; the
    second-order part across, of the same size, adds (0.01² / 2g)² for the slope g = 0.4.
    """
    xy = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
    readings = np.column_stack([xy, 0.4 * xy[:, 0]])
    pieces = sampled(surface_of(xy, readings[:, 2], ROUGH), FLOOR, 20)
    found = tilt(pieces, readings, 1.0, 0.01 * np.eye(4))
    assert found.readings_slope == pytest.approx(0.4)
    assert found.readings_sd == pytest.approx(math.hypot(0.01, 0.01**2 / 0.8), rel=1e-9)
    assert tilt(pieces, readings, 1.0).readings_sd is None
