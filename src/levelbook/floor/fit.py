"""From the levels of one visit to the surface of one area."""

from collections import Counter
from collections.abc import Collection

import numpy as np

from levelbook.book.model import Area, Book, Units
from levelbook.book.units import convert
from levelbook.errors import UsageError
from levelbook.floor.model import Array, Hyperparameters, TooFew
from levelbook.floor.reml import Prior, Sample, estimate
from levelbook.floor.surface import Surface
from levelbook.levels.model import Levels

NEEDS = 5  # distinct places: three for the trend and two over, to learn anything of the rest
MOST = 400  # stations that the hyperparameters are learnt from; all are conditioned on
FLAT = 1e-3  # stations whose spread across is less than this share of that along lie in line

# Priors of the shape of a house floor: medians in inches and feet, and standard deviations
# of the logarithms. Tuned on simulated houses (bench/coverage.py) so that 95 % intervals
# cover from 12 readings to 400; none is critical, halving or doubling one moves the coverage
# by about a percent.
AMPLITUDE, AMPLITUDE_SPREAD = 0.4, 1.0
LENGTH_SHARE, LENGTH_SPREAD = 0.6, 0.5  # of the square root of the area's size
SHORTEST_LENGTH = 6.0
UNEVENNESS, UNEVENNESS_SPREAD = 0.05, 0.5


def fit_surface(
    levels: Levels, book: Book, area_id: str, *, exclude: Collection[str] = frozenset()
) -> Surface | TooFew:
    """Fit the surface of one area to the levels of its largest group of stations.

    ``exclude`` names stations to leave out. Stations without a level take no part; where
    the area's stations fall into several groups, the one with most stations is used (the
    first of equals). At least ``NEEDS`` distinct places that do not lie in one line are
    needed.

    Raises
    ------
    UsageError
        If the book has no such area.
    """
    area = next((a for a in book.areas if a.id == area_id), None)
    if area is None:
        raise UsageError("area_id", f"no area {area_id!r}", "name an area of the book")
    group, ids = _largest_group(levels, book, area_id, exclude)
    places = {s.id: s.at for s in book.stations}
    xy = np.array([places[i] for i in ids], dtype=float).reshape(-1, 2)
    level = levels.level[[levels.index[i] for i in ids]]
    sample = Sample(xy, level, levels.covariance(ids))
    return fit_sample(sample, floor_prior(area, book.units), (area_id, group, ids))


def fit_sample(
    sample: Sample, prior: Prior, of: tuple[str, str, tuple[str, ...]], most: int = MOST
) -> Surface | TooFew:
    """Fit a surface to any heights at places, with their covariance.

    ``of`` says what they are of: an area, a group and the stations, in the sample's order.
    The hyperparameters are learnt from ``most`` stations at most.
    """
    distinct = _distinct(sample.xy)
    if distinct < NEEDS or _in_line(sample.xy):
        return TooFew(stations=distinct, needs=max(NEEDS, distinct + int(distinct >= NEEDS)))
    return Surface(*of, sample.xy, sample.level, sample.noise, _learn(sample, prior, most))


def floor_prior(area: Area, units: Units) -> Prior:
    """Return the priors of one area's floor in the document's units."""
    size = convert(_extent(area) ** 0.5, units.plan, "ft")
    length = max(LENGTH_SHARE * size, SHORTEST_LENGTH)
    median = Hyperparameters(
        amplitude=convert(AMPLITUDE, "in", units.level),
        length=convert(length, "ft", units.plan),
        unevenness=convert(UNEVENNESS, "in", units.level),
    )
    return Prior(median, (AMPLITUDE_SPREAD, LENGTH_SPREAD, UNEVENNESS_SPREAD))


def _largest_group(
    levels: Levels, book: Book, area_id: str, exclude: Collection[str]
) -> tuple[str, tuple[str, ...]]:
    """Return the group that has most of the area's stations, and those in document order."""
    known = [
        (s.id, levels.stations[s.id].group)
        for s in book.stations
        if s.area == area_id and s.id in levels.stations and s.id not in exclude
    ]
    counts = Counter(group for _, group in known)
    best = max((g.id for g in levels.groups), key=lambda g: counts[g], default="")
    return best, tuple(station for station, group in known if group == best)


def _extent(area: Area) -> float:
    """Return the size of an area in plan units squared, holes left out."""

    def shoelace(ring: tuple[tuple[float, float], ...]) -> float:
        x, y = np.asarray(ring, dtype=float).T
        x, y = x - x[0], y - y[0]
        return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2

    return shoelace(area.outline) - sum(shoelace(hole) for hole in area.holes)


def _distinct(xy: Array) -> int:
    """Return how many places there are, those nearer than can be told apart counted once."""
    size = float(np.ptp(xy)) if len(xy) else 0.0
    return len({tuple(place) for place in np.round(xy / (FLAT * size or 1.0)).tolist()})


def _in_line(xy: Array) -> bool:
    """Whether all places lie in one line, so that no tilt across it can be known."""
    spread = np.linalg.svd(xy - xy.mean(axis=0), compute_uv=False)
    return bool(spread[1] < FLAT * spread[0])


def _learn(sample: Sample, prior: Prior, most: int) -> Hyperparameters:
    """Estimate the hyperparameters, from well spread stations where there are very many."""
    if len(sample.xy) > most:
        keep = spread_out(sample.xy, most)
        sample = Sample(sample.xy[keep], sample.level[keep], sample.noise[np.ix_(keep, keep)])
    return estimate(sample, prior)


def spread_out(xy: Array, count: int) -> Array:
    """Return the indices (count,) of places (n, 2), each the farthest from those before it.

    Source: Gonzalez (1985), Theoretical Computer Science 38, 293.
    """
    chosen = [int(np.argmin(((xy - xy.mean(axis=0)) ** 2).sum(axis=1)))]
    nearest = np.full(len(xy), np.inf)
    while len(chosen) < count:
        nearest = np.minimum(nearest, ((xy - xy[chosen[-1]]) ** 2).sum(axis=1))
        chosen.append(int(np.argmax(nearest)))
    return np.sort(np.array(chosen))
