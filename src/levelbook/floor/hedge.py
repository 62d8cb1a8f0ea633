"""The fitted surface with doubt about its roughness added to its sd.

Amplitude, length and unevenness are themselves learnt from the readings. Where a figure was
picked for being the largest of many (the steepest slope, the worst chord), or hangs on one
corner of the floor, taking them as known makes its sd too small. Here every answer is
averaged over six other surfaces: their hyperparameters stand off by √3 standard deviations,
each way along the three principal directions of what the readings and the prior leave open.
That is the cubature of third degree for a normal distribution in the logarithms (McNamee &
Stenger 1967, Numerische Mathematik 10, 327). The mean stays that of the fitted surface, and
how far the six stand off it counts as variance.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cholesky, solve_triangular

from levelbook.floor.model import Array, Hyperparameters
from levelbook.floor.reml import Prior, Sample, evaluate
from levelbook.floor.surface import Surface

MOST = 400
"""Stations beyond which roughness is known well enough, and learnt from no more than these."""


@dataclass(frozen=True)
class Hedged:
    """A surface and others of different roughness; answers as a surface does."""

    surface: Surface
    others: tuple[Surface, ...]

    @property
    def xy(self) -> Array:
        """Places (n, 2) of the stations."""
        return self.surface.xy

    @property
    def stations(self) -> tuple[str, ...]:
        """Ids of the stations."""
        return self.surface.stations

    def functional(self, weights: ArrayLike, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (k,) and covariance (k, k) of ``weights @ z(at)``, doubt included."""
        answers = [s.functional(weights, at) for s in self.others]
        return _spread(self.surface.functional(weights, at), answers)

    def joint(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (..., m) and covariance (..., m, m) at ``at`` (..., m, 2), doubt included."""
        return _spread(self.surface.joint(at), [s.joint(at) for s in self.others])

    def mean(self, at: ArrayLike) -> Array:
        """Return the mean (m,) at ``at`` (m, 2), that of the fitted surface."""
        return self.surface.mean(at)

    def predict(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (m,) and standard deviation (m,) at ``at`` (m, 2), doubt not included."""
        return self.surface.predict(at)


def _spread(fitted: tuple[Array, Array], answers: list[tuple[Array, Array]]) -> tuple[Array, Array]:
    mean, covariance = fitted
    if not answers:
        return mean, covariance
    off = np.array([other for other, _ in answers]) - mean
    within = np.mean([spread for _, spread in answers], axis=0)
    return mean, within + np.einsum("s...i,s...j->...ij", off, off) / len(off)


def hedge(surface: Surface, prior: Prior) -> Hedged:
    """Return a fitted surface with the others that stand for doubt about its roughness.

    ``prior`` is the one that its hyperparameters were learnt with.
    """
    if len(surface.xy) > MOST:
        return Hedged(surface, ())
    hyper = surface.hyper
    logs = np.log([hyper.amplitude, hyper.length, hyper.unevenness])
    sample = Sample(surface.xy, surface.level, surface.noise)
    factor = cholesky(evaluate(sample, prior, logs).information, lower=True)
    steps = np.sqrt(3.0) * solve_triangular(factor, np.eye(3), lower=True)
    others = (
        Hyperparameters(*np.exp(logs + sign * step).tolist()) for step in steps for sign in (1, -1)
    )
    return Hedged(surface, tuple(replace(surface, hyper=other) for other in others))
