"""The adjustment: stations eliminated, then one small least-squares problem.

Within one station all readings share the level, so the level is eliminated exactly: with
weights ``p = 1/σ²`` every reading and its row of the design are taken relative to the
station's weighted mean. What is left holds only finishes, setups and drifts, ``k`` unknowns,
and only stations read more than once have a part in it. With its solution ``θ``::

    level(i) = ȳ(i) - ā(i) θ,      Cov = diag(1/Σp) + ā Cov(θ) āᵀ

since the weighted means ``ȳ`` are uncorrelated with the contrasts within stations that give
``θ``. The redundancy of a reading is what both steps leave of it: one less its share of the
station's weight, less its leverage on ``θ``. Work O(n k²), memory O(n k). (Block elimination;
see Koch, *Parameter Estimation and Hypothesis Testing in Linear Models*, 1999, 3.2.)

Readings are first taken relative to the most precise one at the station, so that no digits
are lost when one instrument is far more precise than another.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from levelbook.errors import UsageError
from levelbook.levels.estimability import Estimability
from levelbook.levels.least_squares import LeastSquares, normalised, solve
from levelbook.levels.model import Array
from levelbook.levels.observations import Observations

MOST_SHARED = 600
"""Most finishes, setups and drifts together that one book is adjusted with."""

MOST_ENTRIES = 4_000_000
"""Most readings times finishes, setups and drifts: a table of 32 MB."""


@dataclass(frozen=True)
class Unknowns:
    """The shared unknowns that are kept: columns of finishes, setups and drifts.

    ``column`` gives the kept column of each finish, setup and drift in that order (one
    drift for each setup), -1 where it is held at 0.
    """

    column: NDArray[np.intp]
    finishes: int
    setups: int
    count: int

    def rows(self, terms: list[tuple[NDArray[np.intp], Array]], length: int) -> Array:
        """Return a matrix (length, count) summing terms of (unknowns, coefficients)."""
        matrix = np.zeros((length, self.count + 1))
        for unknown, coefficient in terms:
            matrix[np.arange(length), self.column[unknown]] += coefficient
        return matrix[:, : self.count]


@dataclass(frozen=True)
class Adjustment:
    """Solved shared unknowns and the stations' reduced means.

    ``theta`` (k,) with covariance ``factor @ factor.T``; ``mean`` (m,) and ``mean_rows``
    (m, k) with ``level = mean - mean_rows @ theta`` up to each group's zero; ``own`` (m,)
    the variance of ``mean``; ``residual``, ``redundancy``, ``w`` (n,) of the readings.
    """

    unknowns: Unknowns
    theta: Array
    factor: Array
    mean: Array
    mean_rows: Array
    own: Array
    residual: Array
    redundancy: Array
    w: Array
    chi2: float


def shared_unknowns(observations: Observations, can: Estimability) -> Unknowns:
    """Return which finishes, setups and drifts are unknowns of the adjustment.

    Raises
    ------
    UsageError
        If there are too many for a moment's work and modest memory.
    """
    drifts = observations.elapsed.drifts
    kept = np.r_[can.determined, drifts]
    size = len(can.determined) + int(drifts.sum())
    most = min(MOST_SHARED, MOST_ENTRIES // len(observations.readings))
    if size > most:
        raise UsageError(
            "setups",
            f"{size} finishes, setups and drifts are too many to adjust together",
            f"keep to {most} in a book of {len(observations.readings)} readings",
        )
    column = np.where(kept, np.cumsum(kept) - 1, -1)
    return Unknowns(column, can.finishes, len(drifts), int(kept.sum()))


def adjust(observations: Observations, unknowns: Unknowns) -> Adjustment:
    """Adjust the readings; see the module for the method."""
    k = unknowns.count
    table = np.column_stack([_design(observations, unknowns), observations.value])
    first, start, order = _pivots(observations)
    ratio = (observations.sd[first] / observations.sd) ** 2
    weight = np.bincount(observations.station, ratio)
    share = ratio / weight[observations.station]
    contrast = table - table[first]
    shift = np.add.reduceat((share[:, None] * contrast)[order], start)
    centred = contrast - shift[observations.station]
    mean = table[order[start]] + shift
    tied = np.bincount(observations.station)[observations.station] > 1
    small = solve(centred[tied, :k], centred[tied, k], observations.sd[tied])
    residual, redundancy = _scatter(small, tied, share)
    return Adjustment(
        unknowns=unknowns,
        theta=small.estimates,
        factor=small.factor,
        mean=mean[:, k],
        mean_rows=mean[:, :k],
        own=observations.sd[order[start]] ** 2 / weight,
        residual=residual,
        redundancy=redundancy,
        w=normalised(residual / observations.sd, redundancy),
        chi2=small.chi2,
    )


def _design(observations: Observations, unknowns: Unknowns) -> Array:
    """Return the readings' rows (n, k) over the shared unknowns that are kept."""
    ones = np.ones(len(observations.value))
    setups = unknowns.finishes + observations.setup
    terms = [
        (observations.finish, ones),
        (setups, ones),
        (setups + unknowns.setups, observations.elapsed.hours),
    ]
    return unknowns.rows(terms, len(ones))


def _pivots(observations: Observations) -> tuple[NDArray[np.intp], ...]:
    """Return each reading's most precise fellow, the stations' starts, and their order."""
    order = np.lexsort((observations.sd, observations.station))
    start = np.flatnonzero(np.r_[True, np.diff(observations.station[order]) > 0])
    return order[start][observations.station], start, order


def _scatter(small: LeastSquares, tied: NDArray[np.bool_], share: Array) -> tuple[Array, Array]:
    """Return residual and redundancy of every reading; untied ones have none."""
    residual, redundancy = np.zeros(len(tied)), np.zeros(len(tied))
    residual[tied] = small.residuals
    redundancy[tied] = np.maximum(small.redundancy - share[tied], 0.0)
    return residual, redundancy
