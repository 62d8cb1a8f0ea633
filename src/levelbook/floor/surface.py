"""The floor of one area as a Gaussian process with a linear trend.

The model of the level ``z`` at station ``i``, after the readings have been reduced::

    z_i = b0 + b1 x + b2 y + f(x, y) + u_i + e_i

``f`` is a zero-mean Gaussian process (Matérn, smoothness 5/2), ``u`` the floor's small-scale
unevenness (independent at every station) and ``e`` the error of the levels with their own
full covariance. Trend coefficients are unknown with a flat prior (universal kriging), so
that nothing about the shape depends on which station is held at zero.
Source: Rasmussen & Williams, *Gaussian Processes for Machine Learning* (2006), 2.7.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cholesky
from scipy.linalg.blas import dtrmm
from scipy.linalg.lapack import dtrtri

from levelbook.floor.covariance import JITTER, ROOT5, distances, matern52, scaled_matern52
from levelbook.floor.model import Array, Hyperparameters

UNTOLD = 1e-9  # share of a level's weight below which the others do not tell it
BLOCK = 40_000  # covariances worked on at a time: they stay in the processor's cache


class _Solution(NamedTuple):
    """What every answer needs: ``whiten`` is the inverse of the lower Cholesky factor."""

    whiten: Array  # (n, n)
    basis: Array  # (n, 3), the whitened trend functions
    normal: Array  # (3, 3), inverse of the lower factor of basis.T @ basis
    trend: Array  # (3,)
    residual: Array  # (n,), whitened levels less whitened trend


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

    @cached_property
    def _scaled_stations(self) -> Array:
        return self._scaled(self.xy)

    def _scaled(self, xy: Array) -> Array:
        return np.asarray((xy - self._centre) * (ROOT5 / self.hyper.length))

    def _basis(self, xy: Array) -> Array:
        return np.column_stack([np.ones(len(xy)), (xy - self._centre) / self.hyper.length])

    def _kernel(self, a: Array, b: Array) -> Array:
        correlation = scaled_matern52(self._scaled(a), self._scaled(b))
        correlation *= self.hyper.amplitude**2
        return correlation

    @cached_property
    def _solution(self) -> _Solution:
        power = self.hyper.amplitude**2
        apart = distances(self.xy, self.xy) / self.hyper.length
        total = matern52(apart)
        total *= power
        total += self.noise
        total.ravel()[:: len(total) + 1] += self.hyper.unevenness**2 + JITTER * power
        whiten = inverse_factor(total)
        basis = whiten @ self._basis(self.xy)
        normal = inverse_factor(basis.T @ basis)
        white = whiten @ self.level
        trend = normal.T @ (normal @ (basis.T @ white))
        return _Solution(whiten, basis, normal, trend, white - basis @ trend)

    def functional(self, weights: ArrayLike, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (k,) and covariance (k, k) of ``weights @ z(at)``.

        ``weights`` is (k, m), ``at`` (m, 2). Exact for any linear functional of the surface.
        """
        w, points = np.atleast_2d(np.asarray(weights, float)), np.asarray(at, float)
        cross = np.zeros((len(w), len(self.xy)))
        prior = np.zeros((len(w), len(w)))
        for part in _blocks(len(points), len(self.xy)):
            cross += w[:, part] @ self._kernel(points[part], self.xy)
            prior += w[:, part] @ (self._kernel(points[part], points) @ w.T)
        return self._condition(cross, w @ self._basis(points), prior)

    def joint(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (..., m) and covariance (..., m, m) at ``at`` (..., m, 2).

        With several sets of places, each has a covariance of its own.
        """
        points = np.asarray(at, float)
        flat = points.reshape(-1, 2)
        mean, white, excess = self._known(self._kernel(flat, self.xy), self._basis(flat))
        white, excess = (part.reshape(*points.shape[:-1], -1) for part in (white, excess))
        covariance = self._kernel(points, points)
        covariance -= white @ white.swapaxes(-1, -2)
        covariance += excess @ excess.swapaxes(-1, -2)
        covariance += covariance.swapaxes(-1, -2).copy()
        covariance *= 0.5
        return mean.reshape(points.shape[:-1]), covariance

    def _known(self, cross: Array, basis: Array) -> tuple[Array, Array, Array]:
        """Return the mean of functionals, and what they gain and lose in variance, as roots.

        ``cross`` (k, n) are their prior covariances with the levels, ``basis`` (k, 3) their
        trend functions.
        """
        known = self._solution
        white = cross @ known.whiten.T
        mean = basis @ known.trend + white @ known.residual
        return mean, white, (basis - white @ known.basis) @ known.normal.T

    def _condition(self, cross: Array, basis: Array, prior: Array) -> tuple[Array, Array]:
        """Condition functionals with prior ``cross`` covariances (k, n) on the levels."""
        mean, white, excess = self._known(cross, basis)
        covariance = prior - white @ white.T + excess @ excess.T
        return mean, 0.5 * (covariance + covariance.T)

    @cached_property
    def _pulls(self) -> Array:
        """What each station's covariance with a place adds there (n,)."""
        known = self._solution
        return np.asarray(self.hyper.amplitude**2 * (known.whiten.T @ known.residual))

    def mean(self, at: ArrayLike) -> Array:
        """Return the mean (m,) alone at ``at`` (m, 2), in a fraction of the time."""
        points = np.asarray(at, float)
        mean = self._basis(points) @ self._solution.trend
        for part in _blocks(len(points), len(self.xy)):
            correlation = scaled_matern52(self._scaled(points[part]), self._scaled_stations)
            mean[part] += correlation @ self._pulls
        return np.asarray(mean)

    def predict(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (m,) and standard deviation (m,) at ``at`` (m, 2)."""
        points = np.asarray(at, float)
        mean, variance = np.empty(len(points)), np.empty(len(points))
        for part in _blocks(len(points), len(self.xy)):
            mean[part], variance[part] = self._predict_block(points[part])
        return mean, np.sqrt(np.maximum(variance, 0.0))

    def _predict_block(self, points: Array) -> tuple[Array, Array]:
        known, power = self._solution, self.hyper.amplitude**2
        correlation = scaled_matern52(self._scaled(points), self._scaled_stations)
        white = dtrmm(power, known.whiten, correlation.T, lower=1, overwrite_b=1).T
        basis = self._basis(points)
        mean = basis @ known.trend + white @ known.residual
        excess = (basis - white @ known.basis) @ known.normal.T
        gained = np.einsum("ij,ij->i", white, white)
        return mean, power - gained + np.einsum("ij,ij->i", excess, excess)

    def gradient(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return the mean gradient (m, 2) and its covariance (m, 2, 2) at ``at`` (m, 2).

        In level units per plan unit, uphill. Source: derivative of the Matérn 5/2 covariance;
        a derivative of a Gaussian process is jointly Gaussian with it (Rasmussen & Williams
        2006, 9.4).
        """
        points = np.asarray(at, float)
        scale, power = ROOT5 / self.hyper.length, self.hyper.amplitude**2
        step = self._scaled(points)[:, None, :] - self._scaled_stations
        t = np.sqrt((step**2).sum(axis=-1))
        fall = (-power / 3.0 * scale) * (1.0 + t) * np.exp(-t)
        known = self._solution
        white = (fall[:, None, :] * step.transpose(0, 2, 1)) @ known.whiten.T  # (m, 2, n)
        basis = np.column_stack([np.zeros(2), np.eye(2) / self.hyper.length])
        mean = basis @ known.trend + white @ known.residual
        excess = (basis - white @ known.basis) @ known.normal.T
        prior = power / 3.0 * scale**2 * np.eye(2)
        covariance = prior - white @ white.swapaxes(1, 2) + excess @ excess.swapaxes(1, 2)
        return mean, covariance

    def draws(self, at: ArrayLike, count: int, rng: np.random.Generator) -> Array:
        """Return ``count`` joint draws (count, m) of the surface at ``at`` (m, 2)."""
        mean, covariance = self.joint(at)
        values, vectors = np.linalg.eigh(covariance)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        return np.asarray(mean + rng.standard_normal((count, len(mean))) @ root.T)

    def leave_one_out(self) -> tuple[Array, Array]:
        """Return for every station the level (n,) that the others predict, and its sd (n,).

        The sd is that of the level as it would be read there: surface, unevenness and the
        level's own error. The hyperparameters stay; the levels of the other stations are
        taken as given, so an error that a station shares with them (a finish, a setup) is
        seen through them, and a level that came from a tie keeps what the tie told others.
        Where the others cannot tell (the one station off a line), the level itself stands,
        with an infinite sd.
        Source: Dubrule (1983), Math. Geology 15(6) 687; Rasmussen & Williams (2006), 5.12,
        with the trend projected out.
        """
        known = self._solution
        projected = known.normal @ (known.basis.T @ known.whiten)
        whole = (known.whiten**2).sum(axis=0)
        precision = whole - (projected**2).sum(axis=0)
        told = precision > UNTOLD * whole
        precision = np.where(told, precision, 1.0)
        pull = np.where(told, known.whiten.T @ known.residual, 0.0)
        return self.level - pull / precision, np.where(told, precision**-0.5, np.inf)


def inverse_factor(matrix: Array) -> Array:
    """Return the inverse of the lower Cholesky factor of a positive definite matrix."""
    if not matrix.size:  # the library complains aloud about a matrix of no rows
        return np.empty(matrix.shape)
    # Turned over, it lies in memory as the library wants it and needs no copy.
    lower = cholesky(matrix.T, lower=True, overwrite_a=True, check_finite=False)
    return np.asarray(dtrtri(lower, lower=1)[0])


def _blocks(count: int, stations: int) -> Iterator[slice]:
    """Cut ``count`` places into runs that make about ``BLOCK`` covariances each."""
    rows = min(max(BLOCK // stations, 64), 1024)
    return (slice(start, start + rows) for start in range(0, count, rows))
