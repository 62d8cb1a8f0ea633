"""Weighted least squares: one solver for every linear model of the program.

The model is ``l = A x + e`` with ``Cov(e) = Σ`` known. With ``Σ = L Lᵀ`` both sides are
whitened (``L⁻¹A``, ``L⁻¹l``), columns are brought to one length, and the problem is solved by
Householder QR with pivoted columns and one step of iterative refinement, which keeps every
digit of unequal weights and large observations (Björck, *Numerical Methods for Least Squares
Problems*, 1996, 2.9). The normal equations are never formed.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cholesky, qr, solve_triangular

from levelbook.errors import UsageError
from levelbook.levels.model import Array

RANK_TOLERANCE = 1e-13
"""A column is dependent when this little of its length stands off the columns before it."""

TESTABLE = 1e-9
"""Least redundancy at which a residual says anything about its observation."""


@dataclass(frozen=True)
class LeastSquares:
    """A solved linear model with ``n`` observations and ``k`` unknowns.

    Attributes
    ----------
    estimates : (k,)
        The unknowns ``x``.
    factor : (k, k)
        ``S`` with ``covariance = S Sᵀ``.
    residuals : (n,)
        Observed minus adjusted, in the unit of the observations.
    redundancy : (n,)
        Diagonal of ``Q_vv Σ⁻¹``: how much of an error in one observation shows in its own
        residual, 0 to 1 for uncorrelated observations; they add up to ``dof``.
    w : (n,)
        Baarda's normalised residual, NaN where the redundancy is 0.
    chi2 : float
        ``vᵀ Σ⁻¹ v``.
    """

    estimates: Array
    factor: Array
    residuals: Array
    redundancy: Array
    w: Array
    chi2: float

    @property
    def dof(self) -> int:
        """Degrees of freedom, observations less unknowns."""
        return len(self.residuals) - len(self.estimates)

    @property
    def covariance(self) -> Array:
        """A priori covariance of the unknowns ``(Aᵀ Σ⁻¹ A)⁻¹``, (k, k)."""
        return np.asarray(self.factor @ self.factor.T)

    @property
    def sd(self) -> Array:
        """A priori standard deviations of the unknowns, (k,)."""
        return np.asarray(np.sqrt((self.factor**2).sum(axis=1)))

    @property
    def variance_factor(self) -> float | None:
        """A posteriori variance factor ``chi2/dof``; ``None`` without redundancy."""
        return self.chi2 / self.dof if self.dof > 0 else None

    @property
    def reference_sd(self) -> float | None:
        """Square root of the variance factor, the standard deviation of unit weight."""
        return None if self.variance_factor is None else float(np.sqrt(self.variance_factor))

    @property
    def posterior_covariance(self) -> Array:
        """Covariance of the unknowns scaled by the variance factor, (k, k).

        Raises
        ------
        UsageError
            Without redundancy there is no variance factor.
        """
        return self._scale() ** 2 * self.covariance

    @property
    def posterior_sd(self) -> Array:
        """Standard deviations of the unknowns scaled by the reference sd, (k,).

        Raises
        ------
        UsageError
            Without redundancy there is no variance factor.
        """
        return self._scale() * self.sd

    def _scale(self) -> float:
        if self.reference_sd is None:
            raise UsageError(
                "least squares",
                "as many unknowns as observations, so there is no variance factor",
                "use the a priori covariance",
            )
        return self.reference_sd


def solve(
    design: ArrayLike,
    observations: ArrayLike,
    sd: ArrayLike = 1.0,
    covariance: ArrayLike | None = None,
) -> LeastSquares:
    """Solve ``l = A x + e`` by weighted least squares.

    Parameters
    ----------
    design : (n, k)
        ``A``, of full column rank.
    observations : (n,)
        ``l``.
    sd : float or (n,)
        Standard deviations of uncorrelated observations.
    covariance : (n, n), optional
        Full covariance ``Σ``; takes the place of ``sd``.

    Raises
    ------
    UsageError
        If shapes disagree, a number is not finite, ``Σ`` is not positive definite, or the
        columns of ``A`` are dependent.

    Notes
    -----
    Baarda's statistic is ``w = (Σ⁻¹v)ᵢ / √(Σ⁻¹ Q_vv Σ⁻¹)ᵢᵢ``, which is ``v / (σ √r)`` for
    uncorrelated observations (Baarda, *A testing procedure for use in geodetic networks*,
    1968).
    """
    a, b = np.asarray(design, float), np.asarray(observations, float)
    _check_shapes(a, b)
    if covariance is None:
        scale = np.broadcast_to(np.asarray(sd, float), b.shape)
        _check_numbers(a, b, scale, bool((scale > 0).all()))
        return _solve_uncorrelated(a, b, scale)
    sigma = np.asarray(covariance, float)
    _check_numbers(a, b, sigma, sigma.shape == (len(b), len(b)))
    return _solve_correlated(a, b, sigma)


def _check_shapes(a: Array, b: Array) -> None:
    if a.ndim != 2 or b.ndim != 1 or len(a) != len(b) or a.shape[0] < a.shape[1]:
        raise UsageError(
            "least squares",
            f"design {a.shape} and observations {b.shape} do not fit",
            "give (n, k) and (n,) with n at least k",
        )


def _check_numbers(a: Array, b: Array, spread: Array, legal: bool) -> None:
    if not (legal and all(np.isfinite(x).all() for x in (a, b, spread))):
        raise UsageError(
            "least squares",
            "a number is not finite, or the standard deviations are not positive",
            "give finite numbers, positive standard deviations or an (n, n) covariance",
        )


def _solve_uncorrelated(a: Array, b: Array, scale: Array) -> LeastSquares:
    white_a, white_b = a / scale[:, None], b / scale
    basis, factor = _factorise(white_a)
    estimates = _estimate(basis, factor, white_a, white_b)
    residuals = b - a @ estimates
    redundancy = np.maximum(1.0 - (basis**2).sum(axis=1), 0.0)
    white = residuals / scale
    return LeastSquares(
        estimates,
        factor,
        residuals,
        redundancy,
        normalised(white, redundancy),
        float(white @ white),
    )


def _solve_correlated(a: Array, b: Array, sigma: Array) -> LeastSquares:
    try:
        lower = cholesky(sigma, lower=True)
    except np.linalg.LinAlgError as error:
        raise UsageError(
            "least squares",
            "the covariance is not positive definite",
            "give a symmetric matrix with positive variances",
        ) from error
    inverse = solve_triangular(lower, np.eye(len(b)), lower=True)
    white_a, white_b = (solve_triangular(lower, side, lower=True) for side in (a, b))
    basis, factor = _factorise(white_a)
    estimates = _estimate(basis, factor, white_a, white_b)
    residuals = b - a @ estimates
    white = solve_triangular(lower, residuals, lower=True)
    across = inverse - basis @ (basis.T @ inverse)  # (I - QQᵀ) L⁻¹
    redundancy = np.einsum("ij,ji->i", lower, across)
    size = (inverse**2).sum(axis=0)  # diagonal of the inverse of Σ
    force = (inverse.T @ white) / np.sqrt(size)
    w = normalised(force, (across**2).sum(axis=0) / size)
    return LeastSquares(estimates, factor, residuals, redundancy, w, float(white @ white))


def _estimate(basis: Array, factor: Array, a: Array, b: Array) -> Array:
    """Return the unknowns, solved once more for what the first solution leaves."""
    first = factor @ (basis.T @ b)
    return np.asarray(first + factor @ (basis.T @ (b - a @ first)))


def normalised(white: Array, redundancy: Array) -> Array:
    """Return ``white/√redundancy``, NaN where the redundancy is below ``TESTABLE``."""
    testable = redundancy >= TESTABLE
    root = np.sqrt(np.where(testable, redundancy, 1.0))
    return np.where(testable, white / root, np.nan)


def _factorise(white: Array) -> tuple[Array, Array]:
    """Return ``Q`` (n, k) with orthonormal columns and ``S`` (k, k) with ``A S = Q``."""
    n, k = white.shape
    if k == 0:
        return np.empty((n, 0)), np.empty((0, 0))
    length = np.sqrt((white**2).sum(axis=0))
    scaled = white / np.where(length > 0, length, 1.0)
    basis, upper, columns = qr(scaled, mode="economic", pivoting=True)
    diagonal = np.abs(np.diag(upper))  # the first is 1, the length of a column
    if diagonal.min() <= RANK_TOLERANCE:
        raise UsageError(
            "least squares",
            f"column {int(columns[diagonal.argmin()])} of the design depends on the others",
            "leave out an unknown that the observations cannot tell",
        )
    factor = np.empty((k, k))
    factor[columns] = solve_triangular(upper, np.eye(k))
    return np.asarray(basis), np.asarray(factor / length[:, None])
