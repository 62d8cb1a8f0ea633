"""The global test and the datum, against plain slow references and by hand."""

import numpy as np
import pytest
from joint import joint_fit
from scipy.stats import chi2, f
from visit_pairs import pair, visit

from levelbook.levels.model import Fit
from levelbook.movement import Congruence, Datum, Differences, Match, Variance, compare
from levelbook.movement.datum import (
    Held,
    congruence,
    describe_datum,
    hold_together,
    pooled_variance,
)
from levelbook.movement.stations import settle

ONE_BLOCK = (("g1", "g1"),)


def find_datum(
    d: Differences,
    groups: tuple[tuple[str, str], ...],
    variance: Variance,
    hold: frozenset[str] = frozenset(),
) -> tuple[Congruence, Datum, Held]:
    """Return the global test, the datum and the state that it was found in."""
    first, state = hold_together(d, variance, hold)
    return first, describe_datum(d, state, groups, variance, hold), state


def made(d: list[float], covariance: np.ndarray, block: list[int] | None = None) -> Differences:
    """Return differences by hand."""
    pairs = tuple(Match(f"s{k}", f"s{k}", "id", 0.0) for k in range(len(d)))
    return Differences(pairs, np.array(d), covariance, np.array(block or [0] * len(d)))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sum_is_what_the_joint_adjustment_gains(seed: int) -> None:
    """The congruency sum is what both visits together lose if no station may move."""
    house, later, _, _ = pair(seed, 0.5, stations=25)
    found = compare(visit(house.book), visit(later), shape=False)
    still, _, _ = joint_fit((house.book, later), ())
    apart = sum(v.levels.fit.chi2 for v in (visit(house.book), visit(later)))
    assert found.congruence.rank == 24
    assert found.congruence.statistic == pytest.approx((still - apart) / 24, rel=1e-8)


@pytest.mark.parametrize("seed", [1, 2])
def test_sum_is_that_of_the_pseudo_inverse(seed: int) -> None:
    """The projected precision is the pseudo-inverse after an S-transformation (Caspary 2000)."""
    house, later, _, _ = pair(seed, 0.5, stations=25)
    found = compare(visit(house.book), visit(later), shape=False)
    n = len(found.differences.ids)
    centre = np.eye(n) - np.full((n, n), 1 / n)
    d = centre @ found.differences.d
    inverse = np.linalg.pinv(centre @ found.differences.covariance @ centre, rcond=1e-10)
    assert found.congruence.statistic == pytest.approx(float(d @ inverse @ d) / (n - 1), rel=1e-8)


def test_limit_and_p_are_those_of_the_distributions() -> None:
    """Chi-square over its degrees of freedom with the a-priori variance, F with a pooled one."""
    plain = congruence(50.0, 39, Variance())
    assert plain.limit == pytest.approx(chi2.ppf(0.95, 39) / 39)
    assert plain.p == pytest.approx(chi2.sf(50.0, 39))
    assert plain.moved is False
    pooled = congruence(50.0, 10, Variance(2.0, 25))
    assert pooled.statistic == pytest.approx(2.5)
    assert pooled.limit == pytest.approx(f.ppf(0.95, 10, 25))
    assert pooled.p == pytest.approx(f.sf(2.5, 10, 25))
    assert pooled.moved is True


def test_one_station_cannot_contradict_itself() -> None:
    """Without redundancy there is no test and no number."""
    assert congruence(0.0, 0, Variance()).statistic is None


def test_stations_each_joined_to_no_other_are_not_tested() -> None:
    """Three stations, each the zero of a block of its own: nothing is tested, nothing breaks."""
    none, state = hold_together(made([0.0] * 3, np.zeros((3, 3)), [0, 1, 2]), Variance())
    assert (none.statistic, none.rank, none.moved) == (None, 0, None)
    assert not state.checked.any()
    found = settle(made([0.0] * 3, np.zeros((3, 3)), [0, 1, 2]), state, Variance())
    assert all(s.moved is s.sd is None and not s.significant for s in found.stations.values())


def fit(dof: int, chi2_sum: float) -> Fit:
    """Return the global test of one visit."""
    return Fit(dof + 10, 10, dof, chi2_sum / max(dof, 1), chi2_sum, None, None, True)


@pytest.mark.parametrize(
    ("fits", "expected"),
    [
        ((fit(6, 3.0), fit(8, 5.0)), Variance()),
        ((fit(12, 9.0), fit(12, 27.0)), Variance(1.5, 24)),
        ((fit(12, 0.0), fit(12, 0.0)), Variance()),
        ((fit(12, 9.0), fit(12, 9.0)), Variance()),
    ],
)
def test_variance_is_pooled_only_where_it_is_known_well(
    fits: tuple[Fit, Fit], expected: Variance
) -> None:
    """Few closing checks on rounded readings often close to 0, and repeats hide rounding."""
    assert pooled_variance(fits) == expected


def test_worst_station_is_freed_first_and_only_what_is_needed() -> None:
    """One station of six far off is freed; the others hold; the shift is theirs."""
    d = made([0.3, 0.31, 0.29, 0.3, 0.3, 1.3], 0.01 * np.eye(6))
    first, datum, _ = find_datum(d, ONE_BLOCK, Variance())
    assert first.moved
    assert datum.removed == ("s5",)
    assert datum.shift[0].value == pytest.approx(0.3)
    assert datum.shift[0].sd == pytest.approx(0.1 / 5**0.5)
    assert datum.shift[0].robust == pytest.approx(0.3)
    assert datum.agree
    assert datum.majority
    assert datum.rest.moved is False


def test_blocks_have_shifts_of_their_own() -> None:
    """Nothing is compared across blocks: two shifts far apart are no movement."""
    d = made([0.0, 0.1, 0.0, 9.0, 9.1, 9.0], 0.01 * np.eye(6), [0, 0, 0, 1, 1, 1])
    first, datum, _ = find_datum(d, (("g1", "g1"), ("g2", "g2")), Variance())
    assert first.rank == 4
    assert first.moved is False
    assert [round(s.value, 6) for s in datum.shift] == [0.033333, 9.033333]


def test_minority_is_told() -> None:
    """Where fewer than half agree, that is said."""
    d = made([0.0, 0.0, 0.0, 1.0, 2.0, 3.0, 4.0], 0.0001 * np.eye(7))
    datum = find_datum(d, ONE_BLOCK, Variance())[1]
    assert set(datum.stations) == {"s0", "s1", "s2"}
    assert not datum.majority


@pytest.mark.parametrize("common", [0.0, 100.0])
def test_second_opinion_disagrees_where_the_datum_is_far_from_the_middle(common: float) -> None:
    """Two tight stations hold against five loose ones elsewhere: the median says otherwise.

    An error that all have in common excuses no gap between the two.
    """
    covariance = np.diag([1e-6, 1e-6, *[1e-4] * 5]) + common
    d = made([0.0, 0.0, 1.0, 1.1, 1.2, 1.3, 1.4], covariance)
    datum = find_datum(d, ONE_BLOCK, Variance())[1]
    assert set(datum.stations) == {"s0", "s1"}
    assert not datum.agree
    assert not datum.majority


def test_chosen_stations_are_held_whatever_they_say() -> None:
    """Held stations hold; their own disagreement is tested and told."""
    d = made([0.0, 1.0, 0.5, 0.5, 0.5], 0.0001 * np.eye(5))
    _, datum, _ = find_datum(d, ONE_BLOCK, Variance(), frozenset({"s0", "s1"}))
    assert datum.stations == ("s0", "s1")
    assert datum.how == "held as chosen"
    assert datum.shift[0].value == pytest.approx(0.5)
    assert datum.rest.moved


def test_search_goes_on_in_blocks_without_a_chosen_station() -> None:
    """Held stations settle their own block; the other block finds its own datum."""
    d = made([0.0, 1.0, 5.0, 5.0, 5.0, 7.0], 0.0001 * np.eye(6), [0, 0, 1, 1, 1, 1])
    _, datum, _ = find_datum(d, (("g1", "g1"), ("g2", "g2")), Variance(), frozenset({"s0"}))
    assert datum.stations == ("s0", "s2", "s3", "s4")
    assert datum.removed == ("s1", "s5")
