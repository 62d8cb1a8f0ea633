"""Range and steepest slope, held against plain loops."""

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from known_floors import ROUGH, book_of, lattice, moved, surface_of

from levelbook.floor.slopes import level_range, steepest, steepest_pair
from levelbook.levels import reduce
from levelbook.levels.model import Fit, Levels


def levels_of(level, own, shared) -> Levels:
    ids = tuple(f"s{i}" for i in range(len(level)))
    fit = Fit(len(level), len(level), 0, None, 0.0, None, None, None)
    return Levels((), {}, {}, {}, fit, (), {}, ids, np.array(level), np.array(own), shared)


def test_range_is_highest_less_lowest_with_their_covariance():
    """What two levels share, such as a finish's height, does not make their range unsure."""
    shared = np.array([[0.3, 0.0], [0.3, 0.1], [0.0, 0.2]])
    levels = levels_of([0.5, -0.7, 0.1], [0.01, 0.02, 0.5], shared)
    found = level_range(levels, ("s0", "s1", "s2"))
    assert (found.value, found.high, found.low) == (pytest.approx(1.2), "s0", "s1")
    assert found.sd == pytest.approx(math.sqrt(0.01 + 0.02 + 0.1**2))


def test_range_looks_at_the_named_stations_alone():
    """A station of another group takes no part, and the order of the names does not matter."""
    levels = levels_of([9.0, 1.0, 3.0, 2.0], [0.01] * 4, np.zeros((4, 1)))
    for names in (("s1", "s3", "s2"), ("s2", "s3", "s1")):
        found = level_range(levels, names)
        assert (found.value, found.high, found.low) == (2.0, "s2", "s1")


def test_range_of_one_station_is_nothing():
    """Highest and lowest are the same place, and the difference is sure."""
    found = level_range(levels_of([3.0], [0.5], np.ones((1, 1))), ("s0",))
    assert (found.value, found.sd) == (0.0, 0.0)


def test_range_sd_of_readings_of_one_setup():
    """Two readings apart by one setup: √2 times the sd of one (0.05² + 0.1²/12)."""
    xy = lattice(step=14.0)
    values = [f"{i / 10:.1f}" for i in range(len(xy))]
    found = level_range(reduce(book_of(xy, values)), tuple(f"s{i}" for i in range(len(xy))))
    assert found.value == pytest.approx((len(xy) - 1) / 10)
    assert found.sd == pytest.approx(math.sqrt(2 * (0.05**2 + 0.1**2 / 12)))


def brute(xy, level, apart):
    """Return the steepest slope by looking at every pair."""
    slopes = [
        (abs(level[i] - level[j]) / math.dist(xy[i], xy[j]), i, j)
        for i, j in combinations(range(len(xy)), 2)
        if math.dist(xy[i], xy[j]) >= apart
    ]
    return max(slopes) if slopes else None


@given(st.integers(0, 10_000), st.integers(2, 25), st.floats(1.0, 30.0))
@settings(max_examples=60)
def test_steepest_pair_is_that_of_a_plain_loop(seed, count, apart):
    """The same slope as looking at every pair, uphill end first, or none as well."""
    rng = np.random.default_rng(seed)
    xy, level = rng.uniform((0, 0), (40, 28), (count, 2)), rng.normal(0, 1, count)
    pair, want = steepest_pair(xy, level, apart), brute(xy, level, apart)
    assert (pair is None) == (want is None)
    if pair is not None and want is not None:
        high, low = pair
        assert level[high] >= level[low]
        assert (level[high] - level[low]) / math.dist(xy[high], xy[low]) == pytest.approx(want[0])


def test_steepest_is_of_the_fitted_surface_with_its_sd():
    """Slope, sd and distance of the pair, by the surface's own functional, in rise over run."""
    rng = np.random.default_rng(8)
    xy = rng.uniform((0, 0), (40, 28), (30, 2))
    surface = surface_of(xy, rng.normal(0, 0.3, 30), ROUGH, 0.06)
    found = steepest(surface, 10.0, 1 / 12)
    mean, _ = surface.predict(xy)
    assert found is not None
    assert found.slope == pytest.approx(brute(xy, mean, 10.0)[0] / 12)
    high, low = (int(name[1:]) for name in (found.start, found.end))
    ends = xy[[high, low]]
    drop, variance = surface.functional([[1.0, -1.0]], ends)
    assert found.distance == pytest.approx(math.dist(*ends))
    assert found.slope == pytest.approx(float(drop[0]) / found.distance / 12)
    assert found.sd == pytest.approx(math.sqrt(float(variance[0, 0])) / found.distance / 12)
    assert found.min_apart == 10.0


def test_stations_exactly_that_far_apart_count():
    """A pair at 10 ft is at least 10 ft apart though rounding may say a hair less."""
    xy = moved([(0.0, 0.0), (10.0, 0.0), (0.0, 4.0)], 33.0, (0.1, 0.7))
    assert steepest_pair(xy, np.array([0.0, 1.0, 5.0]), 10.0) == (2, 1)
    assert steepest_pair(xy[:2], np.array([0.0, 1.0]), 10.0) == (1, 0)


def test_no_pair_far_enough_apart_gives_none():
    """Nothing is reported over a distance shorter than asked."""
    xy = lattice(step=7.0)
    assert steepest(surface_of(xy, xy[:, 0] * 0.01, ROUGH, 0.06), 60.0, 1 / 12) is None


def test_picking_the_steepest_does_not_exaggerate():
    """On floors of the model, the steepest slope covers the true slope of its pair at 95 %."""
    rng = np.random.default_rng(9)
    xy = rng.uniform((0, 0), (40, 28), (40, 2))
    known = surface_of(xy, np.zeros(40), ROUGH, 0.06)
    root = np.linalg.cholesky(known._kernel(xy, xy) + 1e-10 * np.eye(40))
    inside, over = [], []
    for _ in range(250):
        floor = root @ rng.standard_normal(40)
        level = floor + np.hypot(0.05, 0.06) * rng.standard_normal(40)
        found = steepest(surface_of(xy, level, ROUGH, 0.06), 10.0, 1.0)
        high, low = (int(name[1:]) for name in (found.start, found.end))
        truth = (floor[high] - floor[low]) / found.distance
        inside.append(abs(found.slope - truth) <= 1.96 * found.sd)
        over.append(found.slope - truth)
    assert 0.92 <= np.mean(inside) <= 0.98
    assert abs(np.mean(over)) < 0.1 * np.mean(np.abs(over)) + 3 * np.std(over) / np.sqrt(250)
