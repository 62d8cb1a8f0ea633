"""Quantiles with their intervals, and places among others, held to what they promise."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, norm

from levelbook.archive.evaluation.quantiles import (
    SHARES,
    Place,
    needed,
    order_ranks,
    place,
    quantile,
    told_share,
)

# Ranks for the median with their coverage as in tables of the sign test's interval; from
# memory, recomputed from the binomial distribution here.
MEDIAN_RANKS = {6: (1, 6, 0.96875), 10: (2, 9, 0.978515625), 20: (6, 15, 0.9586105346679688)}


@pytest.mark.parametrize("count", MEDIAN_RANKS)
def test_ranks_of_the_median(count: int) -> None:
    """The tabled order statistics bound the median, with the tabled chance."""
    low, high, chance = MEDIAN_RANKS[count]
    assert order_ranks(count, 0.5) == (low, high)
    found = quantile(range(1, count + 1), 0.5)
    assert found is not None
    assert (found.low, found.high) == (low, high)
    assert found.coverage == pytest.approx(chance, abs=1e-12)


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("count", [3, 6, 13, 40, 72, 73, 200, 1_000])
def test_ranks_by_counting(count: int, share: float) -> None:
    """Ranks are the innermost whose tails are each at most a fortieth, by plain summing."""
    chance = [float(binom.pmf(k, count, share)) for k in range(count + 1)]
    low = max((r for r in range(1, count + 1) if sum(chance[:r]) <= 0.025), default=None)
    high = min((r for r in range(1, count + 1) if sum(chance[r:]) <= 0.025), default=None)
    expected = None if low is None or high is None else (low, high)
    assert order_ranks(count, share) == expected


def test_how_many_are_needed() -> None:
    """A median needs six, a quarter thirteen, a twentieth seventy-two; ends mirror each other."""
    assert [needed(share) for share in SHARES] == [72, 13, 6, 13, 72]
    assert quantile(range(71), 0.05) is None
    assert quantile([], 0.5) is None


@settings(max_examples=100)
@given(
    st.lists(st.floats(-1e6, 1e6), min_size=6, max_size=300),
    st.sampled_from(SHARES),
    st.floats(0.1, 10),
)
def test_a_quantile_lies_in_its_interval(values: list[float], share: float, scale: float) -> None:
    """Value within interval, coverage as promised, and all of it moves with the values."""
    found = quantile(values, share)
    assert (found is None) == (len(values) < needed(share))
    if found is not None:
        assert found.low <= found.value <= found.high
        assert found.coverage >= 0.95 - 1e-12
        moved = quantile([scale * v for v in values], share)
        assert moved is not None
        assert moved.value == pytest.approx(scale * found.value, abs=1e-6 * scale)


@pytest.mark.parametrize("share", SHARES)
def test_intervals_cover_on_simulated_archives(share: float) -> None:
    """Over 800 archives of skewed figures the interval holds the truth as often as it says."""
    rng = np.random.default_rng(11)
    truth = float(np.exp(0.5 * norm.ppf(share)))
    found = [quantile(np.exp(0.5 * rng.standard_normal(120)), share) for _ in range(800)]
    held = np.mean([q is not None and q.low <= truth <= q.high for q in found])
    promised = found[0].coverage if found[0] is not None else 0.0
    assert promised >= 0.95
    assert abs(held - promised) < 4 * np.sqrt(0.05 * 0.95 / 800)


@pytest.mark.parametrize(("sd", "count"), [(0.0, 150), (0.15, 150), (0.4, 30), (1.0, 400)])
def test_places_cover_on_simulated_archives(sd: float, count: int) -> None:
    """The true place of houses measured with error is in the interval 95 times of 100.

    Houses and archive are drawn alike; the interval may hold a little more often, as it
    takes nothing for known of the house but its own figure.
    """
    rng = np.random.default_rng(12)
    held = []
    for _ in range(300):
        others = rng.standard_normal(count)
        true = rng.standard_normal()
        found = place(true + sd * rng.standard_normal(), sd, others)
        held.append(found.low <= norm.cdf(true) <= found.high)
    assert 0.925 <= np.mean(held) <= 0.995


@settings(max_examples=60)
@given(
    st.lists(st.floats(-5, 5), min_size=1, max_size=80),
    st.floats(-8, 8),
    st.floats(0, 3),
)
def test_a_place_is_a_share_within_its_interval(
    others: list[float], value: float, sd: float
) -> None:
    """Between 0 and 1, interval around it, and the same from either end of the scale."""
    found = place(value, sd, others)
    assert 0 <= found.low <= found.share <= found.high <= 1
    mirrored = place(-value, sd, [-v for v in others])
    assert mirrored.share == pytest.approx(1 - found.share, abs=1e-9)
    assert mirrored.low == pytest.approx(1 - found.high, abs=1e-6)


def test_the_share_is_the_distribution_averaged() -> None:
    """With many others the share is the chance that the house's figure lies above another's."""
    others = norm.ppf((np.arange(4_000) + 0.5) / 4_000)
    for value, sd in ((0.0, 1.0), (1.0, 0.5), (-2.0, 0.1)):
        expected = float(norm.cdf(value / np.sqrt(1 + sd**2)))
        assert place(value, sd, others).share == pytest.approx(expected, abs=2e-3)


def test_doubt_widens_an_interval() -> None:
    """Less sure of the house, or fewer others: wider."""
    others = np.random.default_rng(3).standard_normal(200)
    widths = [(p := place(0.3, sd, others)).high - p.low for sd in (0.0, 0.2, 0.5, 1.0)]
    assert widths == sorted(widths)
    few, many = place(0.3, 0.2, others[:20]), place(0.3, 0.2, others)
    assert few.high - few.low > many.high - many.low


def test_equal_houses_count_half() -> None:
    """A house like all others stands in the middle, not at an end."""
    assert place(1.0, 0.0, [1.0] * 40).share == 0.5


def test_ends_are_told_outward() -> None:
    """No interval is told narrower than it is."""
    assert told_share(Place(0.725, 0.617, 0.8101, 40)) == ("72", "61", "82")
