"""Simulated pairs of visits: how often the tests err, and how well intervals hold.

60 pairs of each kind with fixed seeds; ``bench/movement.py`` runs 500 and prints the rates. The
bounds here are what a sound method passes nearly always at this number.
"""

from functools import cache

import numpy as np
import pytest
from visit_pairs import pair, visit

from levelbook.movement import Comparison, compare

PAIRS = 60


@cache
def simulated(size: float) -> list[tuple[Comparison, dict[str, float]]]:
    """Return comparisons of simulated pairs with the true movement of the stations."""
    out = []
    for seed in range(PAIRS):
        house, later, moved, _ = pair(seed, size)
        out.append((compare(visit(house.book), visit(later)), moved))
    return out


def covered(size: float) -> float:
    """Return the share of 95 % intervals of movements that hold the truth."""
    hits = [
        abs((told.moved or 0.0) - moved[i]) <= 1.96 * (told.sd or 0.0)
        for found, moved in simulated(size)
        for i, told in found.movements.stations.items()
    ]
    return float(np.mean(hits))


def test_nothing_moved_is_seldom_called_movement() -> None:
    """The global test at 5 % rejects at most 8 of 60 pairs (5 % expected, binomial 99.5 %)."""
    assert sum(bool(found.congruence.moved) for found, _ in simulated(0.0)) <= 8
    named = [any(s.significant for s in f.movements.stations.values()) for f, _ in simulated(0.0)]
    assert sum(named) <= 8


def test_a_corner_gone_down_half_an_inch_is_found() -> None:
    """The global test, or a station that stands out, finds at least 95 % of the drops."""
    found = [
        bool(f.congruence.moved) or any(s.significant for s in f.movements.stations.values())
        for f, _ in simulated(0.5)
    ]
    assert np.mean(found) >= 0.95


def test_the_right_stations_are_named() -> None:
    """Among stations clearly moved or not at all, the named ones are the moved: Jaccard 0.8."""
    scores = []
    for found, moved in simulated(0.5):
        told = found.movements.stations
        clear = {i for i, s in told.items() if abs(moved[i]) >= 1.5 * (s.least_detectable or 9.9)}
        still = {i for i in told if moved[i] == 0.0}
        named = {i for i, s in told.items() if s.significant} & (clear | still)
        if clear:
            scores.append(len(named & clear) / len(named | clear))
    assert len(scores) > PAIRS / 2
    assert np.mean(scores) >= 0.8


@pytest.mark.parametrize("size", [0.0, 0.5])
def test_intervals_of_movement_hold(size: float) -> None:
    """95 % intervals hold the true movement in 92 to 98 % of stations."""
    assert 0.92 <= covered(size) <= 0.98


def test_changes_of_shape_are_seldom_called_where_there_is_none() -> None:
    """Tilt, bend and range are each called changed in at most 8 of 60 still houses."""
    areas = [found.areas["house"] for found, _ in simulated(0.0)]
    for told in ("tilt", "deflection", "range"):
        assert sum(bool(getattr(area, told).significant) for area in areas) <= 8


def test_shape_sees_a_corner_gone_down() -> None:
    """The change of bend alone shows most of the drops."""
    areas = [found.areas["house"] for found, _ in simulated(0.5)]
    assert np.mean([area.deflection.significant for area in areas if area.deflection]) >= 0.8
