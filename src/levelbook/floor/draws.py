"""Joint draws for what is no linear function of the surface: a largest offset, a range.

Deterministic: the same question has the same answer, and turning the sheet changes it only
by rounding, as the root of a covariance taken here turns with it.
"""

import math
from functools import lru_cache

import numpy as np

from levelbook.floor.model import Array

COUNT = 512
SEED = 20


def draws(mean: Array, covariance: Array) -> Array:
    """Return draws (512, n) from a normal distribution with mean (n,) and covariance (n, n).

    Their sample mean and covariance are exactly those asked for, so that only what is not
    linear in them is by simulation.
    """
    values, vectors = np.linalg.eigh(covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    return np.asarray(mean + _standard(len(mean)) @ root)


@lru_cache(maxsize=8)
def _standard(size: int) -> Array:
    """Return draws (512, size) with zero mean and unit covariance: pairs of opposite sign."""
    half = np.random.default_rng(SEED).standard_normal((COUNT // 2, size))
    orthogonal, _ = np.linalg.qr(half)
    half = orthogonal * math.sqrt(COUNT / 2)
    return np.concatenate([half, -half])
