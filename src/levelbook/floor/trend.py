"""Polynomial trend surfaces by least squares: what anyone can repeat in a spreadsheet.

Source: Davis, *Statistics and Data Analysis in Geology* (1973), trend-surface analysis.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from levelbook.errors import UsageError
from levelbook.floor.model import Array, Point
from levelbook.levels.least_squares import LeastSquares, solve


@dataclass(frozen=True)
class TrendSurface:
    """A fitted polynomial in the plan coordinates counted from ``origin``.

    ``coefficients`` (k,) stand in the order of :func:`monomials`: 1, x, y, x², xy, y², ….
    """

    order: int
    origin: Point
    solution: LeastSquares

    @property
    def coefficients(self) -> Array:
        """Coefficients (k,), level units over powers of plan units."""
        return self.solution.estimates

    @property
    def residuals(self) -> Array:
        """Observed minus fitted level (n,), level units."""
        return self.solution.residuals

    @property
    def sum_of_squares(self) -> float:
        """Residual sum of squares, level units squared."""
        return float(self.residuals @ self.residuals)

    @property
    def standard_error(self) -> float:
        """Residual standard deviation, level units; NaN with nothing left over."""
        reference = self.solution.reference_sd
        return float("nan") if reference is None else reference

    @property
    def leverage(self) -> Array:
        """Diagonal of the hat matrix (n,), 0 to 1: the pull of each level on its own fit."""
        return 1.0 - self.solution.redundancy

    @property
    def standardised(self) -> Array:
        """Residuals over their own standard deviations (n,), NaN where the leverage is 1."""
        return np.asarray(self.solution.w / self.standard_error)

    def predict(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return the trend (m,) at ``at`` (m, 2) and its standard deviation (m,)."""
        design = monomials(np.asarray(at, dtype=float) - self.origin, self.order)
        spread = np.sqrt(((design @ self.solution.factor) ** 2).sum(axis=1))
        return design @ self.coefficients, self.standard_error * spread


def monomials(xy: Array, order: int) -> Array:
    """Return the columns (n, k) of all powers up to ``order``: 1, x, y, x², xy, y², …."""
    x, y = xy.T
    return np.column_stack(
        [x ** (total - j) * y**j for total in range(order + 1) for j in range(total + 1)]
    )


def trend_surface(
    xy: ArrayLike, level: ArrayLike, order: int = 1, origin: Point = (0.0, 0.0)
) -> TrendSurface:
    """Fit a polynomial of the given order to levels (n,) at places (n, 2), equal weights.

    ``origin`` is where the powers are counted from; take it near the middle of places with
    large coordinates.

    Raises
    ------
    UsageError
        If the order is negative, or the places are too few or lie so that the
        coefficients cannot be told apart.
    """
    if order < 0:
        raise UsageError("order", f"no polynomial has order {order}", "give 0 or more")
    places = np.asarray(xy, dtype=float) - origin
    return TrendSurface(order, origin, solve(monomials(places, order), level))
