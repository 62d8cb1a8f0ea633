"""The datum between two relative surveys: which stations held still, and the shift on them.

Levels of one visit have no outside bench mark, so the difference of two visits is known up to
one shift a block. The global congruency test asks whether the differences agree with shifts
alone; while they do not, the station that contradicts the others most is freed (backward
removal), until the rest agree (Pelzer 1971; Niemeier 1985; Caspary 2000, *Concepts of Network
and Deformation Analysis*; USACE EM 1110-2-1009). A weighted median of each block (least
absolute deviations) is the second opinion.

The tests are chi-square with the a-priori variance of the readings, unless the adjustments
have degrees of freedom enough for F: readings rounded to 0.1 in with a few closing checks
often close to exactly 0, and an estimate of the variance from those would call noise movement.
"""

from collections.abc import Collection
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, chdtri, fdtrc, fdtri

from levelbook.levels.model import Fit
from levelbook.movement.model import Array, Congruence, Datum, Differences, Shift, Variance

ENOUGH = 20
"""Degrees of freedom from which the pooled variance replaces the a-priori one. Our choice."""
ALPHA = 0.05


class Held:
    """Differences seen with the block shifts, and the freed stations, taken out.

    ``precision`` P (m, m) is the projected inverse covariance: ``d' P d`` is the congruency
    sum. Freeing station i takes ``(P d)_i² / P_ii`` away, and P is downdated by a rank-one
    term, so that no step inverts anything. ``whole`` is P before any station is freed.
    """

    def __init__(self, differences: Differences) -> None:
        shifts = differences.blocks
        inverse = np.linalg.inv(lifted(differences.covariance, shifts))
        side = inverse @ shifts
        inner = np.linalg.solve(shifts.T @ side, side.T)
        self.whole: Array = np.asarray(inverse - side @ inner, dtype=float)
        self.precision: Array = self.whole.copy()
        self.d = differences.d
        self.free = np.zeros(len(self.d), dtype=bool)
        self.rank = len(self.d) - shifts.shape[1]
        self._least = 1e-9 * np.diag(inverse)

    @property
    def total(self) -> float:
        """The congruency sum of the stations still held."""
        return float(self.d @ self.precision @ self.d)

    @property
    def checked(self) -> NDArray[np.bool_]:
        """Which stations (m,) are held, and checked by others that are."""
        return ~self.free & (np.diag(self.precision) > self._least)

    def worst(self, among: NDArray[np.bool_]) -> int | None:
        """Return the station among some whose freeing lowers the sum most, if there is any."""
        usable = self.checked & among
        if not usable.any():
            return None
        gain = (self.precision @ self.d) ** 2 / np.where(usable, np.diag(self.precision), 1.0)
        return int(np.where(usable, gain, -1.0).argmax())

    def release(self, i: int) -> None:
        """Give station ``i`` a movement of its own."""
        if self.checked[i]:
            row = self.precision[i].copy()
            self.precision -= np.outer(row, row / row[i])
            self.rank -= 1
        self.precision[i] = self.precision[:, i] = 0.0
        self.free[i] = True


def lifted(covariance: Array, shifts: Array) -> Array:
    """Return a covariance (m, m) with a constant added in each block.

    It changes nothing once the block's shift is free, and lifts the zeros of a station that
    is the zero of both visits; where all are that, nothing else sets a size.
    """
    size = float(np.trace(covariance)) / len(covariance) or 1.0
    return np.asarray(covariance + size * shifts @ shifts.T)


def pooled_variance(fits: Collection[Fit]) -> Variance:
    """Return the pooled variance factor of the adjustments, or the a-priori one.

    A pooled factor under 1 is not used: a reading repeated is rounded the same way again, so
    that repeats show less error than there is.
    """
    dof = sum(fit.dof for fit in fits)
    if dof < ENOUGH:
        return Variance()
    factor = sum(fit.chi2 for fit in fits) / dof
    return Variance(factor, dof) if factor > 1 else Variance()


def congruence(total: float, rank: int, variance: Variance) -> Congruence:
    """Test at 5 % that a congruency sum with ``rank`` degrees of freedom is noise alone.

    F with the pooled variance where that has degrees of freedom enough, else chi-square over
    its degrees of freedom. Without redundancy nothing is tested.
    """
    if rank <= 0:
        return Congruence(None, 0, None, None, None, variance.factor, variance.dof)
    statistic = total / (rank * variance.factor)
    if variance.dof is None:
        limit, p = chdtri(rank, ALPHA) / rank, chdtrc(rank, statistic * rank)
    else:
        limit, p = fdtri(rank, variance.dof, 1 - ALPHA), fdtrc(rank, variance.dof, statistic)
    moved = bool(statistic > limit)
    return Congruence(statistic, rank, float(limit), float(p), moved, variance.factor, variance.dof)


def hold_together(
    differences: Differences, variance: Variance, hold: frozenset[str] = frozenset()
) -> tuple[Congruence, Held]:
    """Return the global test over all stations, and those that hold the visits together.

    Parameters
    ----------
    differences
        Of the matched stations.
    variance
        Of the readings, see :func:`pooled_variance`.
    hold
        Stations (earlier ids) to hold instead of finding some, in the blocks they are in.
    """
    state = Held(differences)
    first = congruence(state.total, state.rank, variance)
    chosen = np.isin(differences.ids, list(hold))
    held_block = np.isin(differences.block, differences.block[chosen])
    for i in np.flatnonzero(held_block & ~chosen):
        state.release(int(i))
    _search(state, variance, ~held_block)
    return first, state


def describe_datum(
    differences: Differences,
    state: Held,
    groups: tuple[tuple[str, str], ...],
    variance: Variance,
    hold: frozenset[str] = frozenset(),
) -> Datum:
    """Return which stations hold, the shift on them, and the second opinion.

    ``groups`` are those (earlier, later) of every block.
    """
    kept = ~state.free
    how: Literal["all agree", "worst freed until the rest agree", "held as chosen"]
    how = "all agree" if kept.all() else "worst freed until the rest agree"
    return Datum(
        stations=tuple(i for i, held in zip(differences.ids, kept, strict=True) if held),
        removed=tuple(i for i, held in zip(differences.ids, kept, strict=True) if not held),
        how="held as chosen" if hold else how,
        shift=_shifts(differences, groups, kept, variance),
        majority=bool(hold) or _majority(differences, kept),
        rest=congruence(state.total, state.rank, variance),
    )


def _search(state: Held, variance: Variance, among: NDArray[np.bool_]) -> None:
    """Free the worst of some stations until the rest agree."""
    while congruence(state.total, state.rank, variance).moved:
        worst = state.worst(among)
        if worst is None:
            break
        state.release(worst)


def _majority(differences: Differences, kept: NDArray[np.bool_]) -> bool:
    """Whether at least half of every block's stations hold it."""
    shifts = differences.blocks
    return bool(np.all(2 * (kept @ shifts) >= shifts.sum(axis=0)))


def _shifts(
    differences: Differences,
    groups: tuple[tuple[str, str], ...],
    kept: NDArray[np.bool_],
    variance: Variance,
) -> tuple[Shift, ...]:
    """Return the shift of each block, the plain mean of the kept stations, and the median.

    The mean over the datum is the shift of the S-transformation of least trace (Baarda 1973;
    Caspary 2000). The generalised mean would give a station that is the zero of both visits
    all the weight, since its difference is 0 without error.
    """
    found = []
    for k, pair in enumerate(groups):
        here = differences.block == k
        d, cov = differences.d[here], variance.factor * differences.covariance[np.ix_(here, here)]
        gain = kept[here] / kept[here].sum()
        value, median = float(gain @ d), float(np.median(d))
        agree = abs(value - median) <= 3 * _median_scatter(gain, cov) + _step(d) / 2 + 1e-9
        found.append(Shift(pair, value, _root(gain, cov), median, agree))
    return tuple(found)


def _median_scatter(gain: Array, covariance: Array) -> float:
    """Return about the sd of a mean with weights ``gain`` less the median of all (n,).

    A median scatters about the mean of the same normal errors by pi/2 - 1 of its variance.
    """
    count = len(gain)
    spread = (np.trace(covariance) - covariance.mean() * count) / max(count - 1, 1) / count
    own = float(np.sqrt((np.pi / 2 - 1) * max(float(spread), 0.0)))
    return float(np.hypot(_root(gain - 1 / count, covariance), own))


def _step(d: Array) -> float:
    """Return the smallest step between unlike differences: rounded readings leave a lattice."""
    gaps = np.diff(np.unique(np.round(d, 9)))
    return float(gaps.min(initial=np.inf)) if len(gaps) else 0.0


def _root(weights: Array, covariance: Array) -> float:
    """Return the sd of a weighted sum."""
    return float(np.sqrt(max(float(weights @ covariance @ weights), 0.0)))
