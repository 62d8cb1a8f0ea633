"""All readings of a visit as one linear model, to tell what the others expect of each.

The model of a reading in the document, with the floor's own model for the level::

    s · value = trend(x, y) + f(x, y) + u + height + constant + drift · elapsed + error

``f`` and ``u`` are the surface and the unevenness of the station's area, random; the trend of
each area, heights, constants and drifts are unknown. A reading is thus held against its
neighbours on the floor and against the network of pairs, ties and closing checks at once,
and what its own finish and setup owe to it is taken into account: leaving one reading out is
exact, with nothing adjusted again. An area without hyperparameters has a free level for each
of its stations: there only the network speaks.

With ``P = V⁻¹ - V⁻¹X (XᵀV⁻¹X)⁻¹ XᵀV⁻¹`` the readings in a set ``R`` differ from what all
others expect by ``(P_RR)⁻¹ (P y)_R`` with covariance ``(P_RR)⁻¹`` (Cook & Weisberg 1982,
*Residuals and Influence in Regression*, 2.2; for one reading, Dubrule 1983, Math. Geology
15(6) 687). In geodesy's words ``(P y)_i / √P_ii`` is Baarda's w in a network that the floor
itself ties together.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import qr

from levelbook.book.model import Book
from levelbook.floor.covariance import JITTER, ROOT5, scaled_matern52
from levelbook.floor.model import Array, Hyperparameters
from levelbook.floor.surface import inverse_factor
from levelbook.levels.observations import Observations

TESTABLE = 1e-9
"""Least share of a reading's own information that the others must add to speak of it."""

LOOSE = 1e-6
"""Share of a reading in what the others cannot tell beyond which it cannot be told itself."""

RANK = 1e-10
"""A column is dependent when this little of its length stands off the columns before it."""


@dataclass(frozen=True)
class ReadingModel:
    """The readings' ``P`` (n, n) and ``P y`` (n,), for ``y`` in the upward sense."""

    projector: Array
    pull: Array
    variance: Array

    def expect(self, left_out: Sequence[int] = ()) -> tuple[Array, Array]:
        """Return what each reading is off (n,) by the others' account, and its variance (n,).

        Readings ``left_out`` are expected from those that are not, and are not used for any
        other. NaN and infinite where the others cannot tell.
        """
        off, spread = np.full(len(self.pull), np.nan), np.full(len(self.pull), np.inf)
        rows = np.array(left_out, dtype=int)
        inverse, told = self._inverse(rows)
        across = self.projector[:, rows] @ inverse
        pull = self.pull - across @ self.pull[rows]
        diagonal = np.diag(self.projector) - np.einsum("ij,ij->i", across, self.projector[:, rows])
        off[rows[told]] = (inverse @ self.pull[rows])[told]
        spread[rows[told]] = np.diag(inverse)[told]
        others = diagonal * self.variance > TESTABLE
        others[rows] = False
        off[others], spread[others] = pull[others] / diagonal[others], 1.0 / diagonal[others]
        return off, spread

    def _inverse(self, rows: NDArray[np.intp]) -> tuple[Array, NDArray[np.bool_]]:
        """Return the inverse of ``P`` among rows, and which of them the others can tell."""
        scale = np.sqrt(self.variance[rows])
        block = self.projector[np.ix_(rows, rows)] * np.outer(scale, scale)
        values, vectors = np.linalg.eigh(block)
        sure = values > TESTABLE
        inverse = (vectors[:, sure] / values[sure]) @ vectors[:, sure].T
        told = (vectors[:, ~sure] ** 2).sum(axis=1) < LOOSE
        return inverse * np.outer(scale, scale), told


@dataclass(frozen=True)
class Site:
    """Where the stations of some observations are: ``xy`` (m, 2) and ``area`` (m,) ids."""

    xy: Array
    area: NDArray[np.str_]


def site_of(book: Book, observations: Observations) -> Site:
    """Return the places and areas of the stations that were read."""
    by_id = {station.id: station for station in book.stations}
    used = [by_id[i] for i in observations.stations]
    xy = np.array([station.at for station in used], dtype=float).reshape(-1, 2)
    return Site(xy, np.array([station.area for station in used]))


def reading_model(
    observations: Observations, site: Site, hypers: Mapping[str, Hyperparameters]
) -> ReadingModel:
    """Return the model of all readings, with the floor's hyperparameters by area."""
    variance = observations.sd**2
    levels = _level_covariance(site, hypers)
    total = levels[np.ix_(observations.station, observations.station)]
    total[np.diag_indices_from(total)] += variance + JITTER * np.diag(total)
    whiten = inverse_factor(total)
    design = whiten @ _design(observations, site, hypers)
    length = np.sqrt((design**2).sum(axis=0))
    basis, upper, _ = qr(design / np.where(length > 0, length, 1.0), mode="economic", pivoting=True)
    size = np.abs(np.diag(upper))
    basis = basis[:, : int((size > RANK * size.max(initial=0.0)).sum())]
    left = whiten - basis @ (basis.T @ whiten)
    projector = left.T @ left
    return ReadingModel(projector, projector @ observations.value, variance)


def network_model(
    observations: Observations, site: Site
) -> tuple[NDArray[np.intp], ReadingModel | None]:
    """Return the readings of stations read more than once, and the model of these, if any.

    Every station has a free level, so that the floor has no say; a station read once says
    nothing of heights and constants.
    """
    counts = np.bincount(observations.station, minlength=len(site.xy))
    rows = np.flatnonzero(counts[observations.station] > 1)
    if not len(rows):
        return rows, None
    stations, station = np.unique(observations.station[rows], return_inverse=True)
    tied = replace(
        observations,
        readings=tuple(observations.readings[i] for i in rows),
        stations=tuple(observations.stations[i] for i in stations),
        station=station,
        finish=observations.finish[rows],
        setup=observations.setup[rows],
        value=observations.value[rows],
        sd=observations.sd[rows],
        elapsed=replace(observations.elapsed, hours=observations.elapsed.hours[rows]),
    )
    return rows, reading_model(tied, Site(site.xy[stations], site.area[stations]), {})


def _level_covariance(site: Site, hypers: Mapping[str, Hyperparameters]) -> Array:
    """Return the covariance of the stations' levels about their trend, (m, m)."""
    total = np.zeros((len(site.xy), len(site.xy)))
    for area, hyper in hypers.items():
        rows = np.flatnonzero(site.area == area)
        scaled = (site.xy[rows] - site.xy[rows].mean(axis=0)) * (ROOT5 / hyper.length)
        own = hyper.amplitude**2 * scaled_matern52(scaled, scaled)
        own[np.diag_indices_from(own)] += hyper.unevenness**2
        total[np.ix_(rows, rows)] = own
    return total


def _design(observations: Observations, site: Site, hypers: Mapping[str, Hyperparameters]) -> Array:
    """Return the columns of the unknowns (n, k); they may depend on each other."""
    free = np.flatnonzero(~np.isin(site.area, list(hypers)))
    stations = [np.eye(len(site.xy))[:, free]]
    for area in hypers:
        own = (site.area == area).astype(float)
        centred = site.xy - (own @ site.xy) / max(own.sum(), 1.0)
        stations.append(own[:, None] * np.column_stack([np.ones(len(own)), centred]))
    drifting = np.flatnonzero(observations.elapsed.drifts)
    in_setup = observations.setup[:, None] == np.arange(len(observations.setups))
    hours = np.where(in_setup, np.nan_to_num(observations.elapsed.hours)[:, None], 0.0)
    return np.column_stack(
        [
            np.column_stack(stations)[observations.station],
            observations.finish[:, None] == np.arange(len(observations.finishes)),
            in_setup,
            hours[:, drifting],
        ]
    ).astype(float)
