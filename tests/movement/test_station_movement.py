"""Movement of stations: against a joint adjustment, the published figure, and by hand."""

import numpy as np
import pytest
from joint import joint_fit
from test_congruence import ONE_BLOCK, find_datum, made
from visit_pairs import pair, visit

from levelbook.levels import least_significant_change
from levelbook.movement import Variance, compare
from levelbook.movement.stations import discoveries, movements, neighbour_weights


def test_least_detectable_change_of_equal_errors() -> None:
    """1.96·√2·0.10 = 0.277 in for one station of 0.10 in on each visit (bench mark held).

    Source: critical values after Baarda 1968, recomputed; also the library's own function.
    """
    each = 0.10**2
    d = made([0.0, 0.5], np.diag([0.0, each + each]))
    _, _, state = find_datum(d, ONE_BLOCK, Variance(), frozenset({"s0"}))
    found = movements(d, state, Variance()).stations["s1"]
    assert found.least_detectable == pytest.approx(0.277, abs=5e-4)
    assert found.least_detectable == pytest.approx(least_significant_change(0.10))
    assert found.moved == pytest.approx(0.5)
    assert found.significant


@pytest.mark.parametrize("seed", [4, 5, 6])
def test_freed_stations_move_as_in_the_joint_adjustment(seed: int) -> None:
    """Movement and sd of freed stations are those of one adjustment of both visits."""
    house, later, _, _ = pair(seed, 0.6, stations=25)
    found = compare(visit(house.book), visit(later), shape=False)
    assert found.datum.removed
    _, rise, sd = joint_fit((house.book, later), found.datum.removed)
    for station in found.datum.removed:
        told = found.movements.stations[station]
        assert told.moved == pytest.approx(rise[station], abs=1e-9)
        assert told.sd == pytest.approx(sd[station], rel=1e-8)
        assert not told.in_datum


def test_stations_of_the_datum_are_told_by_the_others() -> None:
    """A station that holds is freed for a moment: its movement is what the others say."""
    house, later, _, _ = pair(4, 0.6, stations=25)
    found = compare(visit(house.book), visit(later), shape=False)
    for station in found.datum.stations[:6]:
        _, rise, sd = joint_fit((house.book, later), {*found.datum.removed, station})
        told = found.movements.stations[station]
        assert told.moved == pytest.approx(rise[station], abs=1e-9)
        assert told.sd == pytest.approx(sd[station], rel=1e-8)
        assert told.in_datum


def test_pooled_variance_scales_every_sd() -> None:
    """A variance factor of 4 doubles standard deviations and least detectable changes."""
    d = made([0.0, 0.1, 0.0, 0.2, 0.1], 0.01 * np.eye(5))
    state = find_datum(d, ONE_BLOCK, Variance())[2]
    plain, wide = movements(d, state, Variance()), movements(d, state, Variance(4.0, 30))
    for station, told in plain.stations.items():
        assert wide.stations[station].sd == pytest.approx(2 * (told.sd or 0.0))
        assert wide.stations[station].moved == told.moved


def test_a_station_alone_cannot_be_told() -> None:
    """A block of one station, and the only one held, have no movement and no number."""
    d = made([0.0, 0.1, 0.2, 4.0], 0.01 * np.eye(4), [0, 0, 0, 1])
    _, _, state = find_datum(d, (("g1", "g1"), ("g2", "g2")), Variance())
    told = movements(d, state, Variance()).stations
    assert (told["s3"].moved, told["s3"].sd, told["s3"].p) == (None, None, None)
    _, _, held = find_datum(d, (("g1", "g1"), ("g2", "g2")), Variance(), frozenset({"s1"}))
    told = movements(d, held, Variance()).stations
    assert told["s1"].moved is None
    assert told["s0"].moved == pytest.approx(-0.1)
    assert told["s0"].sd == pytest.approx(0.02**0.5)


def test_discoveries_of_the_published_example() -> None:
    """Four of the fifteen p-values are discoveries at 5 % (from memory).

    Source: Benjamini & Hochberg 1995, J. R. Statist. Soc. B 57, section 4.
    """
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344]
    p += [0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000]
    shuffled = np.random.default_rng(1).permutation(15)
    hit = discoveries(np.array(p)[shuffled], np.ones(15, dtype=bool), 0.05)
    assert sorted(np.array(p)[shuffled][hit]) == p[:4]


def test_what_is_not_known_is_never_a_discovery() -> None:
    """Stations without a movement do not count among the tests."""
    hit = discoveries(np.array([0.0, 0.04, 0.5]), np.array([False, True, False]), 0.05)
    assert hit.tolist() == [False, True, False]


def test_weights_come_from_the_neighbours_alone() -> None:
    """A station's own movement has no part in its weight; its neighbours' has; the mean is 1."""
    xy = np.column_stack([np.arange(10.0), np.zeros(10)])
    value = np.zeros(10)
    value[3] = -1.0
    weights = neighbour_weights(xy, np.zeros(10, dtype=np.intp), value, 0.01 * np.eye(10))
    assert weights.mean() == pytest.approx(1.0)
    assert weights[2] == pytest.approx(weights[4])
    assert weights[2] > 5 * weights[9]
    assert weights[3] == pytest.approx(weights[8], rel=0.5)
    flat = neighbour_weights(xy, np.zeros(10, dtype=np.intp), np.zeros(10), 0.01 * np.eye(10))
    assert flat == pytest.approx(np.ones(10))


def test_neighbours_of_another_block_have_no_say() -> None:
    """What moved on another zero gives no weight here."""
    xy = np.column_stack([np.arange(8.0), np.zeros(8)])
    block = np.array([0, 0, 0, 0, 1, 1, 1, 1])
    value = np.array([0, 0, 0, 0, 5.0, 5.0, 5.0, 5.0])
    weights = neighbour_weights(xy, block, value, 0.01 * np.eye(8))
    assert weights[:4] == pytest.approx(weights[0])
    assert weights[4] > 10 * weights[3]


def test_places_on_one_spot_get_equal_weights() -> None:
    """Without distances there are no neighbours to ask."""
    weights = neighbour_weights(
        np.zeros((4, 2)), np.zeros(4, dtype=np.intp), np.arange(4.0), 0.01 * np.eye(4)
    )
    assert weights == pytest.approx(np.ones(4))


def test_what_stands_out_does_not_hold() -> None:
    """No station named as changed is among those that hold, unless it was chosen to."""
    for seed in range(8):
        house, later, _, _ = pair(seed, 1.0, stations=30)
        found = compare(visit(house.book), visit(later), shape=False)
        named = {i for i, s in found.movements.stations.items() if s.significant}
        assert named
        assert not named & set(found.datum.stations)
    held = compare(visit(house.book), visit(later), hold=sorted(named)[:2], shape=False)
    assert set(sorted(named)[:2]) == set(held.datum.stations)
