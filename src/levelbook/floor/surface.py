"""The floor of one area as a Gaussian process with a linear trend.

The model of the level ``z`` at station ``i``, after the readings have been reduced::

    z_i = b0 + b1 x + b2 y + f(x, y) + u_i + e_i

``f`` is a zero-mean Gaussian process (Matérn, smoothness 5/2), ``u`` the floor's small-scale
unevenness (independent at every station) and ``e`` the error of the levels with their own
full covariance. Trend coefficients are unknown with a flat prior (universal kriging).
Source: Rasmussen & Williams, *Gaussian Processes for Machine Learning* (2006), 2.7.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cho_solve, cholesky, solve_triangular

from levelbook.floor.model import Array, Hyperparameters


def matern52(distance: Array) -> Array:
    """Return the Matérn 5/2 correlation at scaled distances (distance over length)."""
    t = np.sqrt(5.0) * distance
    return np.asarray((1.0 + t + t * t / 3.0) * np.exp(-t))


@dataclass(frozen=True)
class Surface:
    """A fitted floor; every answer comes as mean and (co)variance of the smooth surface.

    ``xy`` is (n, 2) in plan units, ``level`` (n,) and ``noise`` (n, n) in level units and
    their square: the covariance of the levels without the unevenness, which is added here.
    """

    area: str
    group: str
    stations: tuple[str, ...]
    xy: Array
    level: Array
    noise: Array
    hyper: Hyperparameters

    @cached_property
    def _centre(self) -> Array:
        return np.asarray(self.xy.mean(axis=0))

    def _basis(self, xy: Array) -> Array:
        return np.column_stack([np.ones(len(xy)), (xy - self._centre) / self.hyper.length])

    def _kernel(self, a: Array, b: Array) -> Array:
        d2 = ((a[:, None, :] - b[None, :, :]) ** 2).sum(axis=-1)
        return self.hyper.amplitude**2 * matern52(np.sqrt(d2) / self.hyper.length)

    @cached_property
    def _solution(self) -> tuple[Array, Array, Array, Array, Array]:
        """Cholesky factor, whitened basis, its factor, whitened level, trend."""
        n = len(self.xy)
        total = self._kernel(self.xy, self.xy) + self.noise
        total[np.diag_indices(n)] += self.hyper.unevenness**2 + 1e-12
        lower = cholesky(total, lower=True)
        basis = solve_triangular(lower, self._basis(self.xy), lower=True)
        normal = cholesky(basis.T @ basis, lower=True)
        white = solve_triangular(lower, self.level, lower=True)
        trend = cho_solve((normal, True), basis.T @ white)
        return lower, basis, normal, white, trend

    def functional(self, weights: ArrayLike, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (k,) and covariance (k, k) of ``weights @ z(at)``.

        ``weights`` is (k, m), ``at`` (m, 2). Exact for any linear functional of the surface.
        """
        w, points = np.atleast_2d(np.asarray(weights, float)), np.asarray(at, float)
        lower, basis, normal, white, trend = self._solution
        cross = solve_triangular(lower, self._kernel(self.xy, points) @ w.T, lower=True)
        b = w @ self._basis(points)
        mean = b @ trend + cross.T @ (white - basis @ trend)
        excess = solve_triangular(normal, (b - cross.T @ basis).T, lower=True)
        prior = w @ self._kernel(points, points) @ w.T
        return mean, prior - cross.T @ cross + excess.T @ excess

    def predict(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (m,) and standard deviation (m,) at ``at`` (m, 2)."""
        points = np.asarray(at, float)
        lower, basis, normal, white, trend = self._solution
        cross = solve_triangular(lower, self._kernel(self.xy, points), lower=True)
        b = self._basis(points)
        mean = b @ trend + cross.T @ (white - basis @ trend)
        excess = solve_triangular(normal, (b - cross.T @ basis).T, lower=True)
        variance = self.hyper.amplitude**2 - (cross**2).sum(axis=0) + (excess**2).sum(axis=0)
        return mean, np.sqrt(np.maximum(variance, 0.0))
