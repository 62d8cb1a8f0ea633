"""Tilt: the least-squares plane of the fitted surface over the whole footprint.

Each square foot counts once, however the readings were spaced: the plane is fitted to the
surface over cells of equal weight a unit of area, so it is a linear functional of the surface
and its covariance is exact.
"""

import math

import numpy as np

from levelbook.floor.footprint import Sampled
from levelbook.floor.model import Array, Tilt


def plane_weights(xy: Array, share: Array) -> Array:
    """Return the weights (2, m) that turn levels at ``xy`` into the gradient of their plane.

    Weighted least squares with weights ``share``; levels over plan units.
    """
    centred = xy - share @ xy
    moment = centred.T @ (centred * share[:, None])
    return np.asarray(np.linalg.solve(moment, (centred * share[:, None]).T))


def downhill(x: float, y: float) -> float | None:
    """Return the direction downhill of an uphill gradient, degrees clockwise from up the sheet."""
    if x == 0 and y == 0:
        return None
    return math.degrees(math.atan2(-x, -y)) % 360.0


def slope_sd(gradient: Array, covariance: Array) -> float:
    """Return the sd of the length of a gradient (2,) from its covariance (2, 2).

    The variance along the gradient, and the square of what the variance ``v`` across it adds
    to the length ``g`` on average, ``v / 2g``: the length of an uncertain vector is drawn
    outward (second-order term of JCGM 100:2008, 5.1.2 note). Never more than the whole
    variance, which bounds the mean square error of a length.
    """
    total = float(np.trace(covariance))
    size = float(np.hypot(*gradient))
    if size == 0:
        return math.sqrt(max(total, 0.0))
    unit = gradient / size
    along = float(unit @ covariance @ unit)
    outward = min((total - along) / (2 * size), math.sqrt(max(total, 0.0)))
    return math.sqrt(max(min(along + outward * outward, total), 0.0))


def tilt(sampled: Sampled, readings: Array, factor: float, noise: Array | None = None) -> Tilt:
    """Return the tilt of a surface known at pieces of a footprint.

    Parameters
    ----------
    sampled
        The surface at the pieces, level units.
    readings
        Stations and their levels, rows ``x, y, level`` (n, 3), for the plain plane.
    factor
        Level units over plan units as a dimensionless slope.
    noise
        Covariance (n, n) of those levels, for the sd of the plain plane's slope.
    """
    weights = plane_weights(sampled.cells.xy, sampled.cells.share) * factor
    gradient = weights @ sampled.mean
    spread = weights @ sampled.covariance @ weights.T
    through = plain_plane(readings[:, :2]) * factor
    plain = through @ readings[:, 2]
    plain_sd = None if noise is None else slope_sd(plain, through @ noise @ through.T)
    x, y = map(float, gradient)
    return Tilt(
        slope=float(np.hypot(x, y)),
        sd=slope_sd(gradient, spread),
        direction=downhill(x, y),
        x=x,
        y=y,
        x_sd=math.sqrt(max(float(spread[0, 0]), 0.0)),
        y_sd=math.sqrt(max(float(spread[1, 1]), 0.0)),
        readings_slope=float(np.hypot(*plain)),
        readings_direction=downhill(*map(float, plain)),
        readings_x=float(plain[0]),
        readings_y=float(plain[1]),
        readings_sd=plain_sd,
    )


def plain_plane(xy: Array) -> Array:
    """Return the weights (2, n) of the gradient of the unweighted plane through n stations."""
    least = len(xy) * float(np.finfo(float).eps)
    return np.asarray(np.linalg.pinv(xy - xy.mean(axis=0), rcond=least))
