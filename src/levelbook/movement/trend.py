"""A straight line, and a yearly swing where the visits allow one, through values in time.

    value(t) = a + b t + c cos 2πt + s sin 2πt + error,      t in years

by weighted least squares with the values' own errors. It describes the visits made and
forecasts nothing.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from levelbook.levels.least_squares import solve
from levelbook.movement.model import Array

LINE_VISITS, LINE_YEARS = 3, 0.5
"""Fewest visits and years that a line is fitted to. Our choice."""
SWING_VISITS, SWING_YEARS = 5, 1.0
"""Fewest visits, one more than unknowns, and years for a yearly swing. Our choice."""
WORST_CONDITION = 30.0
"""Visits all of one season cannot tell a swing from a level; past this none is fitted."""


@dataclass(frozen=True, slots=True)
class Trend:
    """A line through values in time: ``rate`` per year, and half the yearly swing.

    ``cosine`` and ``sine`` are the terms of the year counted from the first visit. ``chi2`` of
    the residuals has ``dof`` degrees of freedom.
    """

    rate: float
    rate_sd: float
    swing: float | None
    swing_sd: float | None
    cosine: float | None
    sine: float | None
    chi2: float
    dof: int
    visits: int
    years: float


def fit_trend(
    years: ArrayLike, values: ArrayLike, sd: ArrayLike, *, swing: bool = True
) -> Trend | None:
    """Return the trend of values (v,) with standard deviations (v,), if there are enough.

    ``years`` (v,) counts from the first visit; ``swing`` allows a yearly term.
    """
    t, y = np.asarray(years, dtype=float), np.asarray(values, dtype=float)
    error = np.asarray(sd, dtype=float)
    span = float(np.ptp(t)) if len(t) else 0.0
    if len(np.unique(t)) < LINE_VISITS or span < LINE_YEARS or not (error > 0).all():
        return None
    found = swing and _swings(t, span)
    design = _with_swing(t) if found else _line(t)
    fit = solve(design, y, error)
    yearly = fit.estimates[2:]
    covariance = fit.covariance
    return Trend(
        rate=float(fit.estimates[1]),
        rate_sd=math.sqrt(float(covariance[1, 1])),
        swing=float(np.hypot(*yearly)) if found else None,
        swing_sd=_length_sd(yearly, covariance[2:, 2:]) if found else None,
        cosine=float(yearly[0]) if found else None,
        sine=float(yearly[1]) if found else None,
        chi2=float(fit.chi2),
        dof=len(t) - design.shape[1],
        visits=len(t),
        years=span,
    )


def _line(t: Array) -> Array:
    return np.column_stack([np.ones(len(t)), t - t.mean()])


def _with_swing(t: Array) -> Array:
    turn = 2 * np.pi * t
    return np.column_stack([_line(t), np.cos(turn), np.sin(turn)])


def _swings(t: Array, span: float) -> bool:
    """Whether the visits can tell a yearly swing from a line."""
    if len(np.unique(t)) < SWING_VISITS or span <= SWING_YEARS:
        return False
    design = _with_swing(t)
    return bool(np.linalg.cond(design / np.linalg.norm(design, axis=0)) < WORST_CONDITION)


def _length_sd(vector: Array, covariance: Array) -> float:
    """Return the sd of a vector's length, first order along it."""
    size = float(np.hypot(*vector))
    if size == 0:
        return math.sqrt(float(np.trace(covariance)) / 2)
    return math.sqrt(float(vector @ covariance @ vector)) / size
