"""Readings to levels: the adjustment of one visit, put together.

The model of an unstruck reading, ``s`` being +1 where a higher floor reads more and -1 where
it reads less::

    s · value = level(station) + height(finish) + constant(setup) + drift(setup) · elapsed + error

with the variance of ``error`` ``sd² + resolution²/12`` (the second term is that of rounding,
JCGM 100:2008, 4.3.7) and ``elapsed`` in hours since the setup's first reading.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from levelbook.book.model import Book
from levelbook.levels.adjustment import Adjustment, adjust, shared_unknowns
from levelbook.levels.closures import closures
from levelbook.levels.estimability import Estimability, estimability
from levelbook.levels.groups import Groups, find_groups
from levelbook.levels.model import (
    Array,
    FinishHeight,
    Fit,
    Levels,
    Residual,
    SetupConstant,
    StationLevel,
)
from levelbook.levels.observations import Observations, observe
from levelbook.levels.statistics import chi_square_limits

GLOBAL_ALPHA = 0.05
"""Significance of the global test."""


def reduce(book: Book) -> Levels:
    """Adjust the readings of one visit to levels with their full covariance.

    Levels are those of the common floor plane: where a station was read on carpet, the
    carpet's height is taken off. Every group of stations that the readings connect has a
    zero of its own, held at exactly 0; levels of different groups do not compare.

    Residuals are observed minus adjusted in the sense of ``s · value``: positive where the
    reading makes the floor higher than the adjustment has it, whatever the instrument's
    sense.

    Raises
    ------
    UsageError
        If an instrument has no spread, or a book has too many finishes and setups together.
    """
    observations = observe(book)
    if not observations.readings:
        return _nothing(book)
    can = estimability(observations)
    found = find_groups(observations, can, book.reference)
    solved = adjust(observations, shared_unknowns(observations, can))
    assembly = _Assembly(observations, can, found, solved)
    level, own, shared = assembly.levels()
    return Levels(
        groups=found.groups,
        stations=_stations(observations, found, level, own, shared),
        finishes=_finishes(book, assembly),
        setups=_setups(book, assembly),
        fit=_fit(observations, solved),
        closures=closures(observations),
        residuals=_residuals(observations, solved),
        ids=observations.stations,
        level=level,
        own=own,
        shared=shared,
    )


class _Assembly:
    """What the solution says about levels, finishes and setups, each in its group."""

    def __init__(
        self, observations: Observations, can: Estimability, found: Groups, solved: Adjustment
    ) -> None:
        self.observations, self.can, self.found, self.solved = observations, can, found, solved

    def levels(self) -> tuple[Array, Array, Array]:
        """Return levels (m,) and their covariance's parts, own (m,) and shared (m, k + g)."""
        solved, group, zero = self.solved, self.found.station, self.found.zero
        rows = solved.mean_rows - solved.mean_rows[zero[group]]
        level = solved.mean - solved.mean[zero[group]] - rows @ solved.theta
        own = solved.own.copy()
        of_zero = np.zeros((len(level), len(zero)))
        of_zero[np.arange(len(level)), group] = np.sqrt(solved.own[zero[group]])
        own[zero], of_zero[zero] = 0.0, 0.0
        return level, own, np.hstack([rows @ solved.factor, of_zero])

    def finish(self, position: int) -> FinishHeight:
        """Return a finish's height in the first group that tells it, of those it is read in."""
        among = self._groups(self.observations.finish == position)
        remainder = self.can.remainder
        for g in among:
            reference = int(self.found.finish[g])
            if (remainder[position] == remainder[reference]).all():
                row = self._row(position) - self._row(reference)
                value, sd = float(row @ self.solved.theta), self._spread(row)
                return FinishHeight(value, sd, self.found.groups[g].id)
        return FinishHeight(None, None, self.found.groups[among[0]].id)

    def setup(self, position: int) -> SetupConstant:
        """Return a setup's constant in the first group that tells it, and its drift."""
        among = self._groups(self.observations.setup == position)
        drift = self._drift(position)
        for g in among:
            constant = self._constant(position, g)
            if constant is not None:
                return SetupConstant(*constant, *drift, self.found.groups[g].id)
        return SetupConstant(None, None, *drift, self.found.groups[among[0]].id)

    def _constant(self, position: int, g: int) -> tuple[float, float] | None:
        """Return constant and sd above the group's zero and reference finish, if told."""
        solved, origin = self.solved, self.found.origin[[g]]
        known = self.can.channel(self.observations.finish[origin], self.observations.setup[origin])
        asked = self.can.channel(self.found.finish[[g]], np.array([position]))
        if (known != asked).any():
            return None
        zero = self.found.zero[g]
        row = self._row(self.can.finishes + position) + self._row(int(self.found.finish[g]))
        row = row - solved.mean_rows[zero]
        value = float(solved.mean[zero] + row @ solved.theta)
        return value, float(np.hypot(np.sqrt(solved.own[zero]), self._spread(row)))

    def _drift(self, position: int) -> tuple[float | None, float | None]:
        if not self.observations.elapsed.drifts[position]:
            return None, None
        row = self._row(len(self.can.determined) + position)
        return float(row @ self.solved.theta), self._spread(row)

    def _groups(self, where: NDArray[np.bool_]) -> list[int]:
        return [int(g) for g in np.unique(self.found.reading[where])]

    def _row(self, unknown: int) -> Array:
        """Return the row (k,) that picks one shared unknown; 0 where it is the datum."""
        return np.asarray(self.solved.unknowns.rows([(np.array([unknown]), np.ones(1))], 1)[0])

    def _spread(self, row: Array) -> float:
        return float(np.linalg.norm(row @ self.solved.factor))


def _stations(
    observations: Observations, found: Groups, level: Array, own: Array, shared: Array
) -> dict[str, StationLevel]:
    read: list[list[str]] = [[] for _ in observations.stations]
    for i, reading in zip(observations.station, observations.readings, strict=True):
        read[i].append(reading.id)
    sd = np.sqrt(own + (shared**2).sum(axis=1))
    return {
        name: StationLevel(float(level[i]), float(sd[i]), found.groups[g].id, tuple(read[i]))
        for i, (name, g) in enumerate(zip(observations.stations, found.station, strict=True))
    }


def _finishes(book: Book, assembly: _Assembly) -> dict[str, FinishHeight]:
    heights = dict.fromkeys((f.id for f in book.finishes), FinishHeight(None, None, None))
    for i, name in enumerate(assembly.observations.finishes):
        heights[name] = assembly.finish(i)
    return heights


def _setups(book: Book, assembly: _Assembly) -> dict[str, SetupConstant]:
    nothing = SetupConstant(None, None, None, None, None)
    constants = dict.fromkeys((s.id for s in book.setups), nothing)
    for i, name in enumerate(assembly.observations.setups):
        constants[name] = assembly.setup(i)
    return constants


def _fit(observations: Observations, solved: Adjustment) -> Fit:
    readings = len(observations.readings)
    unknowns = len(observations.stations) + solved.unknowns.count
    dof = readings - unknowns
    if dof == 0:
        return Fit(readings, unknowns, 0, None, solved.chi2, None, None, None)
    low, high = chi_square_limits(GLOBAL_ALPHA, dof)
    ok = low <= solved.chi2 <= high
    return Fit(readings, unknowns, dof, solved.chi2 / dof, solved.chi2, low, high, ok)


def _residuals(observations: Observations, solved: Adjustment) -> dict[str, Residual]:
    rows: Iterable[tuple[float, float, float]] = zip(
        solved.residual.tolist(), solved.redundancy.tolist(), solved.w.tolist(), strict=True
    )
    return {
        reading.id: Residual(v, r, None if np.isnan(w) else w)
        for reading, (v, r, w) in zip(observations.readings, rows, strict=True)
    }


def _nothing(book: Book) -> Levels:
    """Return the levels of a book without a single unstruck reading."""
    return Levels(
        groups=(),
        stations={},
        finishes=dict.fromkeys((f.id for f in book.finishes), FinishHeight(None, None, None)),
        setups=dict.fromkeys(
            (s.id for s in book.setups), SetupConstant(None, None, None, None, None)
        ),
        fit=Fit(0, 0, 0, None, 0.0, None, None, None),
        closures=(),
        residuals={},
        ids=(),
        level=np.empty(0),
        own=np.empty(0),
        shared=np.empty((0, 0)),
    )
