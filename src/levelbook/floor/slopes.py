"""Range, and the steepest raw slope between two stations."""

import math

import numpy as np

from levelbook.floor.hedge import Hedged
from levelbook.floor.model import Array, Range, Steepest
from levelbook.floor.surface import Surface
from levelbook.levels.model import Levels


def level_range(levels: Levels, stations: tuple[str, ...]) -> Range:
    """Return the highest minus the lowest of the levels of some stations of one group."""
    rows = [levels.index[i] for i in stations]
    level = levels.level[rows]
    high, low = stations[int(np.argmax(level))], stations[int(np.argmin(level))]
    covariance = levels.covariance((high, low))
    variance = 0.0 if high == low else float(covariance[0, 0] + covariance[1, 1])
    variance -= 0.0 if high == low else 2 * float(covariance[0, 1])
    return Range(float(np.ptp(level)), math.sqrt(max(variance, 0.0)), high, low)


def steepest(surface: Surface | Hedged, min_apart: float, factor: float) -> Steepest | None:
    """Return the steepest slope between two stations at least ``min_apart`` apart.

    The slope is that of the fitted surface at the stations. Picking the largest of
    thousands of raw differences would pick the largest error; the posterior mean is drawn
    toward the floor where the readings are poor, and the posterior of the pair picked needs
    no further allowance for the choice (Gelman, Hill & Yajima 2012, J. Research on
    Educational Effectiveness 5, 189), as long as doubt about the floor's roughness is in it:
    hedge the surface. ``None`` where no pair is that far apart.

    ``factor`` makes level units over plan units a dimensionless slope.
    """
    mean = surface.mean(surface.xy)
    pair = steepest_pair(surface.xy, mean, min_apart)
    if pair is None:
        return None
    high, low = pair
    distance = math.dist(surface.xy[high], surface.xy[low])
    slope, variance = surface.functional([[1.0, -1.0]], surface.xy[[high, low]])
    return Steepest(
        slope=float(slope[0]) / distance * factor,
        sd=math.sqrt(max(float(variance[0, 0]), 0.0)) / distance * factor,
        start=surface.stations[high],
        end=surface.stations[low],
        distance=distance,
        min_apart=min_apart,
    )


def steepest_pair(xy: Array, level: Array, min_apart: float) -> tuple[int, int] | None:
    """Return the positions (higher, lower) of the steepest pair, or ``None``.

    Distances short of ``min_apart`` by a part in 10⁹ count as that far apart.
    """
    first, second = np.triu_indices(len(xy), 1)
    distance = np.hypot(*(xy[first] - xy[second]).T)
    far = distance >= min_apart * (1 - 1e-9)
    if not far.any():
        return None
    first, second, distance = first[far], second[far], distance[far]
    best = int(np.argmax(np.abs(level[first] - level[second]) / distance))
    pair = int(first[best]), int(second[best])
    return pair if level[pair[0]] >= level[pair[1]] else pair[::-1]
