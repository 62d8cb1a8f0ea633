"""Movement of every station against the stations that stood still.

A freed station's movement is its generalised least-squares estimate with the stations of the
datum held at no movement; a station of the datum is told by what the others of the datum say
of it (it is freed for a moment). Both are the estimates of one joint adjustment of the two
visits (Caspary 2000; Niemeier 1985), so that what the visits' errors have in common, a
finish or a setup, is learnt from the stations that stood still.

Significance allows for the many tests, and for what ground does: neighbours move together. The
false discovery rate is held with weights (Genovese, Roeder & Wasserman 2006, Biometrika 93
509) that rest on a station's neighbours alone: its own movement, told against all the others,
is independent of what they say.
"""

from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist
from scipy.special import stdtr

from levelbook.movement.datum import Held
from levelbook.movement.model import Array, Differences, Movements, StationMovement, Variance

Z95 = 1.959963984540054
RATE = 0.05
"""False discovery rate that significance is told at."""
REACH = 1.2
"""Standard deviation of the neighbours' weights, in usual distances to the nearest one."""
STRONGEST = 4.0
"""Standard deviations of the neighbours' mean beyond which no more weight is given."""


ROUNDS = 5
"""Most rounds of freeing what stands out; two are nearly always enough."""


def settle(
    differences: Differences,
    state: Held,
    variance: Variance,
    xy: Array | None = None,
    chosen: Collection[str] = (),
) -> Movements:
    """Free the stations that stand out, so that none of them holds the others; return all.

    Those ``chosen`` to hold keep holding. ``state`` is changed.
    """
    for _ in range(ROUNDS):
        found = movements(differences, state, variance, xy)
        out = [
            k
            for k, station in enumerate(differences.ids)
            if found.stations[station].significant and not state.free[k] and station not in chosen
        ]
        if not out:
            break
        for k in out:
            if state.checked[k]:  # the last one of a block goes on holding it
                state.release(k)
    return movements(differences, state, variance, xy)


def movements(
    differences: Differences, state: Held, variance: Variance, xy: Array | None = None
) -> Movements:
    """Return each station's movement on the datum, with full covariance.

    Least detectable is 1.96 sd (5 %, one station). Significance is by Benjamini & Hochberg
    (1995, *J. R. Statist. Soc. B* 57, 289) at a false discovery rate of 5 % over all stations,
    with weights by the neighbours where the stations' places ``xy`` (m, 2) are given.
    """
    rows = _estimator(state)
    value = rows @ differences.d
    covariance = variance.factor * rows @ differences.covariance @ rows.T
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    known = state.free | state.checked
    size = np.abs(value) / np.where(known, sd, np.inf)
    dof = np.inf if variance.dof is None else float(variance.dof)
    p = np.asarray(2 * stdtr(dof, -size), dtype=float)
    weights = np.ones(len(p))
    if xy is not None:
        weights = neighbour_weights(xy, differences.block, value, covariance)
    hit = discoveries(p / weights, known, RATE)
    stations = {
        station: StationMovement(
            float(value[k]),
            float(sd[k]),
            float(Z95 * sd[k]),
            float(p[k]),
            bool(hit[k]),
            not state.free[k],
        )
        if known[k]
        else StationMovement(None, None, None, None, False, not state.free[k])
        for k, station in enumerate(differences.ids)
    }
    return Movements(stations, value, covariance)


def _estimator(state: Held) -> Array:
    """Return the matrix (m, m) that takes differences to movements; zero rows where unknown."""
    rows = np.zeros_like(state.whole)
    held, free = np.flatnonzero(state.checked), np.flatnonzero(state.free)
    rows[held] = state.precision[held] / np.diag(state.precision)[held, None]
    if len(free):
        rows[free] = np.linalg.solve(state.whole[np.ix_(free, free)], state.whole[free])
    return rows


def neighbour_weights(xy: Array, block: NDArray[np.intp], value: Array, covariance: Array) -> Array:
    """Return the weight (m,) of each station's test by what its neighbours did; mean 1.

    The neighbours' mean movement, weighted by nearness and precision, is told in its own
    standard deviations; the weight grows with its size, whichever way they moved. The reach
    and the growth were chosen on simulated drops of a corner (``bench/movement.py``).
    """
    apart = cdist(xy, xy)
    apart[np.not_equal.outer(block, block)] = np.inf
    np.fill_diagonal(apart, np.inf)
    nearest = apart.min(axis=1, initial=np.inf)
    nearest = nearest[np.isfinite(nearest)]
    reach = REACH * float(np.median(nearest)) if len(nearest) else 0.0
    variance = np.diag(covariance)
    if reach <= 0 or not (variance > 0).any():
        return np.ones(len(xy))
    precision = np.where(variance > 0, 1 / np.where(variance > 0, variance, 1.0), 0.0)
    near = np.exp(-0.5 * (apart / reach) ** 2) * precision
    spread = np.sqrt(np.maximum(np.einsum("ij,ij->i", near @ covariance, near), 0.0))
    size = np.abs(near @ value) / np.where(spread > 0, spread, np.inf)
    weights = np.exp(np.minimum(size, STRONGEST))
    return np.asarray(weights / weights.mean())


def discoveries(p: Array, known: NDArray[np.bool_], rate: float) -> NDArray[np.bool_]:
    """Mark the discoveries among the known ``p`` (m,) at a false discovery ``rate``."""
    hit = np.zeros(len(p), dtype=bool)
    order = np.flatnonzero(known)[np.argsort(p[known], kind="stable")]
    below = p[order] <= rate * (np.arange(len(order)) + 1) / max(len(order), 1)
    if below.any():
        hit[order[: np.flatnonzero(below)[-1] + 1]] = True
    return hit
