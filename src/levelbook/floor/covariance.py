"""Covariance functions of the floor's surface, and the distances they are taken at.

Source of the Matérn forms: Rasmussen & Williams, *Gaussian Processes for Machine Learning*
(2006), 4.2.1. All take the scaled distance ``t = sqrt(5) · distance / length``.
"""

import numpy as np
from numpy.typing import ArrayLike

from levelbook.floor.model import Array

ROOT5 = 5.0**0.5
JITTER = 1e-12  # added to the correlation of a station with itself: it keeps every factor


def distances(a: ArrayLike, b: ArrayLike) -> Array:
    """Return the distances (n, m) between places (n, 2) and (m, 2), to full precision."""
    p, q = np.asarray(a, dtype=float), np.asarray(b, dtype=float)
    across, up = p[:, 0, None] - q[:, 0], p[:, 1, None] - q[:, 1]
    across *= across
    up *= up
    across += up
    return np.asarray(np.sqrt(across, out=across))


def matern52(distance: Array) -> Array:
    """Return the Matérn 5/2 correlation at distances in units of the length scale."""
    t = ROOT5 * distance
    return _matern52(t, t * t)


def matern52_and_slope(t: Array) -> tuple[Array, Array]:
    """Return the Matérn 5/2 correlation and its derivative by the log of the length scale."""
    decay, square = np.negative(t), t * t
    np.exp(decay, out=decay)
    square *= 1.0 / 3.0
    ramp = t + 1.0
    slope = square * ramp
    slope *= decay
    ramp += square
    ramp *= decay
    return ramp, slope


def scaled_matern52(points: Array, stations: Array) -> Array:
    """Return the correlations (..., m, n) of scaled places (..., m, 2) and (..., n, 2).

    Both are plan coordinates times ``sqrt(5) / length``, centred near the origin. Distances
    come from one matrix product; its rounding (1e-8 in distance at worst) enters the
    correlation by its square.
    """
    left, right = np.empty((*points.shape[:-1], 4)), np.empty((*stations.shape[:-1], 4))
    left[..., :2], left[..., 3] = points, 1.0
    right[..., 2] = 1.0
    np.einsum("...i,...i->...", points, points, out=left[..., 2])
    np.multiply(stations, -2.0, out=right[..., :2])
    np.einsum("...i,...i->...", stations, stations, out=right[..., 3])
    square = left @ right.swapaxes(-1, -2)
    np.maximum(square, 0.0, out=square)
    return _matern52(np.sqrt(square), square)


def _matern52(t: Array, square: Array) -> Array:
    """Return the correlations at scaled distances, of which the squares are given too.

    In few passes, and in the places of what is given.
    """
    square *= 1.0 / 3.0
    square += t
    square += 1.0
    np.negative(t, out=t)
    np.exp(t, out=t)
    square *= t
    return np.asarray(square)
