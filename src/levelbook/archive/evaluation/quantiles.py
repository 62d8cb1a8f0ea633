"""Quantiles with intervals that assume nothing of the distribution, and places among others.

A quantile's 95 % interval runs from one order statistic to another: how many of ``n``
independent values lie below the true quantile is binomial, so that the chance that two
order statistics hold it between them is exact for a continuous distribution (W. R. Thompson
1936, Ann. Math. Statist. 7, 122; H. A. David & H. N. Nagaraja 2003, Order Statistics, 3rd
edition, section 7.1; both from memory). Where too few values bound it on both sides there is
no interval, and then no quantile is told. The quantile itself is the median-unbiased one
(R. J. Hyndman & Y. Fan 1996, Amer. Statist. 50, 361, definition 8).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import betainc
from scipy.stats import binom, norm

from levelbook.floor.model import Array

SHARES = (0.05, 0.25, 0.5, 0.75, 0.95)
STEPS = 400
"""Points that stand for a house's own doubt, each of equal weight."""


@dataclass(frozen=True, slots=True)
class Quantile:
    """A quantile and its 95 % interval; ``coverage`` is the interval's own chance, >= 0.95."""

    share: float
    value: float
    low: float
    high: float
    coverage: float


@dataclass(frozen=True, slots=True)
class Place:
    """The share of ``count`` others that lie below a house, 0 to 1, with its 95 % interval."""

    share: float
    low: float
    high: float
    count: int


def quantile(values: ArrayLike, share: float, level: float = 0.95) -> Quantile | None:
    """Return a quantile of a sample with an interval between order statistics.

    ``None`` where the sample is too small for an interval with both ends at this ``level``.
    """
    ordered = np.sort(np.asarray(values, dtype=float))
    ranks = order_ranks(len(ordered), share, level)
    if ranks is None:
        return None
    low, high = ranks
    value = float(np.quantile(ordered, share, method="median_unbiased"))
    below = binom(len(ordered), share)
    return Quantile(
        share=share,
        value=value,
        low=float(ordered[low - 1]),
        high=float(ordered[high - 1]),
        coverage=float(below.cdf(high - 1) - below.cdf(low - 1)),
    )


def order_ranks(count: int, share: float, level: float = 0.95) -> tuple[int, int] | None:
    """Return which order statistics (from 1) bound a quantile, the tails of equal chance.

    ``None`` where one of them would lie beyond the sample.
    """
    tail = (1.0 - level) / 2
    low = int(binom.ppf(tail, count, share)) if count else 0
    high = int(binom.ppf(1.0 - tail, count, share)) + 1
    return (low, high) if low >= 1 and high <= count else None


def needed(share: float, level: float = 0.95) -> int:
    """Return the least sample in which a quantile has an interval."""
    return next(n for n in range(1, 10_000) if order_ranks(n, share, level) is not None)


def place(value: float, sd: float, others: ArrayLike) -> Place:
    """Return where a house stands among others, by a figure with its sd.

    Two doubts are in the interval. The house's own: its true figure is taken to be anywhere
    in N(value, sd), as ``STEPS`` equally likely values. The archive's: with ``k`` of ``n``
    others below such a value, the share of all such houses below it is Beta(k + 1/2,
    n - k + 1/2) (Jeffreys' prior; L. D. Brown, T. T. Cai & A. DasGupta 2001, Statist. Sci.
    16, 101). The interval is the middle 95 % of the mixture; the share is the empirical
    distribution averaged over N(value, sd).
    """
    ordered = np.sort(np.asarray(others, dtype=float))
    count = len(ordered)
    possible = value + sd * norm.ppf((np.arange(STEPS) + 0.5) / STEPS)
    below = np.searchsorted(ordered, possible, side="left")
    up_to = np.searchsorted(ordered, possible, side="right")
    rank = (below + up_to) / 2  # others that are equal count half
    share = float(rank.mean()) / count
    low, high = (_mixed(rank, count, q) for q in (0.025, 0.975))
    return Place(share, min(low, share), max(high, share), count)


def _mixed(rank: Array, count: int, share: float) -> float:
    """Return a quantile of the mixture of Betas, by halving to 1 in 2⁴⁰."""
    ranks, weights = np.unique(rank, return_counts=True)
    weights = weights / weights.sum()
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = (low + high) / 2
        reached = float(weights @ betainc(ranks + 0.5, count - ranks + 0.5, middle))
        low, high = (middle, high) if reached < share else (low, middle)
    return (low + high) / 2


def told_share(place_among: Place) -> tuple[str, str, str]:
    """Return share, low and high as whole numbers of 100, the ends rounded outward."""
    low, high = math.floor(100 * place_among.low), math.ceil(100 * place_among.high)
    return f"{100 * place_among.share:.0f}", f"{low}", f"{high}"
