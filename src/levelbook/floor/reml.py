"""Amplitude, length and unevenness of a floor by restricted maximum likelihood with priors.

What is maximised, over the logarithms of the three::

    -1/2 (log|V| + log|X' V⁻¹ X| + z' P z) + log prior,   P = V⁻¹ - V⁻¹X (X'V⁻¹X)⁻¹ X'V⁻¹

with ``V`` the covariance of the levels and ``X`` the linear trend. Being a likelihood of
contrasts, it does not depend on which station is held at zero (Patterson & Thompson 1971,
Biometrika 58(3) 545). Steps use the average information, which needs no product of two
matrices (Gilmour, Thompson & Cullis 1995, Biometrics 51(4) 1440), and after a few steps
correct it by what the gradient did (BFGS; Nocedal & Wright, *Numerical Optimization* (2006),
6.1). The prior's own curvature keeps every step finite.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.linalg import cho_solve, cholesky
from scipy.linalg.lapack import dpotri, dpotrs

from levelbook.floor.covariance import JITTER, ROOT5, distances, matern52_and_slope
from levelbook.floor.model import Array, Hyperparameters

STEPS = 60
FRESH = 3  # steps that take the average information anew; later ones update it
SETTLED = 1e-8  # expected gain of the next step, in log likelihood
LONGEST = 1.5  # of one step in any logarithm


@dataclass(frozen=True, slots=True)
class Prior:
    """Independent lognormal priors: medians, and standard deviations of the logarithms."""

    median: Hyperparameters
    spread: tuple[float, float, float]

    @property
    def centre(self) -> Array:
        """Logarithms (3,) of the medians."""
        return np.log([self.median.amplitude, self.median.length, self.median.unevenness])

    @property
    def precision(self) -> Array:
        """Inverse variances (3,) of the logarithms."""
        return np.asarray(self.spread) ** -2.0


@dataclass(frozen=True)
class Sample:
    """What the hyperparameters are learnt from: places, levels and their covariance."""

    xy: Array
    level: Array
    noise: Array

    @cached_property
    def distance(self) -> Array:
        """Distances (n, n) between the places."""
        return distances(self.xy, self.xy)

    @cached_property
    def trend(self) -> Array:
        """Linear trend functions (n, 3), centred and scaled."""
        centred = self.xy - self.xy.mean(axis=0)
        return np.column_stack([np.ones(len(centred)), centred / max(np.ptp(centred), 1e-12)])


@dataclass(frozen=True, slots=True)
class Point:
    """Objective (up to a constant), its gradient (3,) and average information (3, 3)."""

    value: float
    gradient: Array
    information: Array


def evaluate(sample: Sample, prior: Prior, logs: Array) -> Point:
    """Return the log posterior of the hyperparameters at their logarithms (3,)."""
    power, length, rough = np.exp(2 * logs[0]), np.exp(logs[1]), np.exp(2 * logs[2])
    correlation, stretch = matern52_and_slope((ROOT5 / length) * sample.distance)
    _raise_diagonal(correlation, JITTER)
    total = power * correlation
    total += sample.noise
    _raise_diagonal(total, rough)
    factor = cholesky(total.T, lower=True, overwrite_a=True, check_finite=False)
    solved = dpotrs(factor, np.column_stack([sample.trend, sample.level]), lower=1)[0]
    basis = solved[:, :3]
    normal = cholesky(sample.trend.T @ basis, lower=True)
    logdet = 2 * np.log(np.diag(factor)).sum() + 2 * np.log(np.diag(normal)).sum()
    halves = cho_solve((normal, True), basis.T)
    pull = solved[:, 3] - basis @ (halves @ sample.level)
    both = np.column_stack([pull, basis])
    moved, stretched = (2 * power) * (correlation @ both), power * (stretch @ both)
    pushed = np.column_stack([moved[:, 0], stretched[:, 0], (2 * rough) * pull])
    back = dpotrs(factor, pushed, lower=1)[0] - basis @ (halves @ pushed)
    inverse = _half_inverse(factor)
    traces = np.array(
        [
            4 * power * np.vdot(inverse, correlation) - np.vdot(halves.T, moved[:, 1:]),
            2 * power * np.vdot(inverse, stretch) - np.vdot(halves.T, stretched[:, 1:]),
            2 * rough * (2 * np.trace(inverse) - np.vdot(halves.T, basis)),
        ]
    )
    off = logs - prior.centre
    value = -0.5 * (logdet + sample.level @ pull + off @ (prior.precision * off))
    gradient = -0.5 * (traces - pull @ pushed) - prior.precision * off
    information = 0.5 * pushed.T @ back + np.diag(prior.precision)
    return Point(float(value), gradient, 0.5 * (information + information.T))


def _raise_diagonal(matrix: Array, by: float) -> None:
    """Add to the diagonal of a matrix in place."""
    matrix.ravel()[:: len(matrix) + 1] += by


def _half_inverse(factor: Array) -> Array:
    """Return one half of the inverse of ``factor @ factor.T``, the diagonal halved too.

    Twice its product with a symmetric matrix, element by element, is the whole inverse's.
    """
    half = np.asarray(dpotri(factor, lower=1)[0])
    diagonal = half.ravel(order="K")[:: len(half) + 1]
    diagonal *= 0.5
    return half.T


def estimate(sample: Sample, prior: Prior) -> Hyperparameters:
    """Return the hyperparameters at the maximum of the log posterior; deterministic."""
    logs = prior.centre
    here = evaluate(sample, prior, logs)
    curvature = here.information
    for count in range(STEPS):
        step = _newton(curvature, here.gradient)
        if here.gradient @ step < SETTLED:
            break
        step *= min(1.0, LONGEST / float(np.abs(step).max()))
        there, step = _search(sample, prior, logs, here, step)
        if there.value <= here.value:
            break
        change = here.gradient - there.gradient
        fresh = count < FRESH
        curvature = there.information if fresh else _updated(curvature, step, change)
        logs, here = logs + step, there
    return Hyperparameters(*(float(v) for v in np.exp(logs)))


def _newton(curvature: Array, gradient: Array) -> Array:
    """Solve for the step, with a ridge that matters only where rounding has won."""
    scale = np.sqrt(np.diag(curvature))
    even = curvature / np.outer(scale, scale) + 1e-10 * np.eye(len(scale))
    return np.asarray(np.linalg.solve(even, gradient / scale) / scale)


def _search(
    sample: Sample, prior: Prior, logs: Array, here: Point, step: Array
) -> tuple[Point, Array]:
    """Shorten an uphill step until the objective gains enough (Armijo's rule)."""
    slope = float(here.gradient @ step)
    there = evaluate(sample, prior, logs + step)
    for _ in range(STEPS):
        if there.value >= here.value + 1e-4 * slope or slope < SETTLED:
            break
        bend = slope - (there.value - here.value)  # of the parabola through both values
        share = float(np.clip(0.5 * slope / bend, 0.1, 0.5))
        step, slope = step * share, slope * share
        there = evaluate(sample, prior, logs + step)
    return there, step


def _updated(curvature: Array, step: Array, change: Array) -> Array:
    """Return the curvature updated by the gradient's change over a step (BFGS)."""
    along = float(step @ change)
    pushed = curvature @ step
    if along <= 1e-8 * float(step @ pushed):
        return curvature
    grown = np.outer(change, change) / along
    return np.asarray(curvature - np.outer(pushed, pushed) / (step @ pushed) + grown)
