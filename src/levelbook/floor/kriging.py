"""Kriging with any covariance function: the weights that the levels get in an estimate.

The fitted floor (:mod:`levelbook.floor.surface`) is the case of a Matérn covariance, a
linear trend and correlated errors; this plain form shows the weights themselves.
Source: Isaaks & Srivastava, *An Introduction to Applied Geostatistics* (1989), ordinary
kriging; Chilès & Delfiner, *Geostatistics* (2012), 3.4, with a trend.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from levelbook.floor.covariance import distances
from levelbook.floor.model import Array
from levelbook.floor.surface import inverse_factor
from levelbook.floor.trend import monomials


@dataclass(frozen=True)
class Kriging:
    """Estimates at ``m`` places from ``n`` levels.

    ``weights`` (m, n) add up to 1 in each row; ``estimate`` (m,) in level units,
    ``variance`` (m,) in their square.
    """

    weights: Array
    estimate: Array
    variance: Array


def krige(
    xy: ArrayLike,
    level: ArrayLike,
    at: ArrayLike,
    covariance: Callable[[Array], Array],
    order: int = 0,
) -> Kriging:
    """Estimate levels at ``at`` (m, 2) from exact levels (n,) at places (n, 2).

    ``covariance`` takes distances; ``order`` is that of the unknown trend, 0 for ordinary
    kriging.
    """
    known, places = np.asarray(xy, dtype=float), np.asarray(at, dtype=float)
    whiten = inverse_factor(covariance(distances(known, known)))
    middle = known.mean(axis=0)
    basis = whiten @ monomials(known - middle, order)
    normal = inverse_factor(basis.T @ basis)
    cross = covariance(distances(places, known)) @ whiten.T
    excess = (monomials(places - middle, order) - cross @ basis) @ normal.T
    weights = (cross + excess @ normal @ basis.T) @ whiten
    sill = covariance(np.zeros(len(places)))
    variance = sill - (cross**2).sum(axis=1) + (excess**2).sum(axis=1)
    return Kriging(weights, weights @ np.asarray(level, dtype=float), variance)
