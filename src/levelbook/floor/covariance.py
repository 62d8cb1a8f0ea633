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
    return np.asarray(np.hypot(p[:, 0, None] - q[:, 0], p[:, 1, None] - q[:, 1]))


def matern52(distance: Array) -> Array:
    """Return the Matérn 5/2 correlation at distances in units of the length scale."""
    t = ROOT5 * distance
    return np.asarray((1.0 + t + t * t / 3.0) * np.exp(-t))


def matern52_and_slope(t: Array) -> tuple[Array, Array]:
    """Return the Matérn 5/2 correlation and its derivative by the log of the length scale."""
    decay, square = np.exp(-t), t * t / 3.0
    return (1.0 + t + square) * decay, square * (1.0 + t) * decay


def scaled_matern52(points: Array, stations: Array) -> Array:
    """Return the correlations (m, n) of scaled places (m, 2) and (n, 2), in few passes.

    Both are plan coordinates times ``sqrt(5) / length``, centred near the origin. Distances
    come from one matrix product; its rounding (1e-8 in distance at worst) enters the
    correlation by its square.
    """
    left = np.column_stack([points, np.einsum("ij,ij->i", points, points), np.ones(len(points))])
    right = np.column_stack(
        [-2.0 * stations, np.ones(len(stations)), np.einsum("ij,ij->i", stations, stations)]
    )
    square = left @ right.T
    np.maximum(square, 0.0, out=square)
    t = np.sqrt(square)
    square *= 1.0 / 3.0
    square += t
    square += 1.0
    np.negative(t, out=t)
    np.exp(t, out=t)
    square *= t
    return np.asarray(square)
