"""Profiles: a line over the fitted surface with its end-to-end chord removed.

The deflection is the largest offset from the chord, + where the middle is high (hog), −
where it is low (sag), as the ASCE Texas Section's guidelines define it (largest offset from
the chord). The place of the largest offset is itself uncertain, and so on a floor close to
straight is its sign. The sd therefore comes from joint draws of the whole profile given the
readings: it is the root mean square difference between the deflection of a drawn profile
and the one reported. Where place and sign are certain this is the plain sd of one offset.
"""

import math
from collections.abc import Mapping
from functools import lru_cache

import numpy as np

from levelbook.floor.draws import draws
from levelbook.floor.hedge import Hedged
from levelbook.floor.model import Array, Point, Profile, Shape
from levelbook.floor.surface import Surface

Line = tuple[Point, Point]

POINTS = 41
_BOUND = 1.96  # of a 95 % interval


def profile(surface: Surface | Hedged, line: Line, factor: float, source: str) -> Profile:
    """Return the profile of a surface along a line: :func:`profiles` for one alone."""
    (found,) = profiles(surface, {source: line}, factor)
    return found


def profiles(
    surface: Surface | Hedged, lines: Mapping[str, Line], factor: float
) -> tuple[Profile, ...]:
    """Return the profiles of a surface along lines, in their order.

    Parameters
    ----------
    surface
        The fitted floor; hedged, its sds allow for doubt about the floor's roughness.
    lines
        The two ends of each, plan units; they lie apart. Each goes by where it comes from:
        ``"section <id>"``, ``"wall <n>"`` or ``"worst chord"``.
    factor
        Level units over plan units as a dimensionless slope.
    """
    if not lines:
        return ()
    ends = np.array(list(lines.values()), float)
    along = np.linspace(0.0, 1.0, POINTS)[:, None]
    points = ends[:, :1] + along * (ends[:, 1:] - ends[:, :1])
    known = zip(lines.items(), points, *surface.joint(points), strict=True)
    return tuple(_profile(named, at, (mean, spread), factor) for named, at, mean, spread in known)


def _profile(
    named: tuple[str, Line], points: Array, known: tuple[Array, Array], factor: float
) -> Profile:
    """Return the profile through evenly spaced places (n, 2) with their joint distribution."""
    (source, (start, end)), (mean, covariance) = named, known
    length = math.dist(start, end)
    chord = chord_removal(POINTS)
    offset, spread = chord @ mean, chord @ covariance @ chord.T
    place = int(np.argmax(np.abs(offset)))
    deflection = float(offset[place])
    sd = _extreme_sd(offset, spread, deflection)
    return Profile(
        line=((float(start[0]), float(start[1])), (float(end[0]), float(end[1]))),
        length=length,
        deflection=deflection,
        sd=sd,
        ratio=None if deflection == 0 else length / (abs(deflection) * factor),
        shape=_shape(deflection, sd),
        at=(float(points[place, 0]), float(points[place, 1])),
        source=source,
        distance=np.linspace(0.0, 1.0, POINTS) * length,
        level=mean,
        level_sd=np.sqrt(np.maximum(np.diag(covariance), 0.0)),
        offset=offset,
    )


@lru_cache(maxsize=4)
def chord_removal(points: int) -> Array:
    """Return the matrix (n, n) that takes evenly spaced levels to offsets from their chord."""
    along = np.linspace(0.0, 1.0, points)
    matrix = np.eye(points)
    matrix[:, 0] -= 1 - along
    matrix[:, -1] -= along
    return matrix


def _shape(deflection: float, sd: float) -> Shape:
    """Return the word: straight where the 95 % interval of the deflection holds 0."""
    if abs(deflection) <= _BOUND * sd:
        return "straight"
    return "hog" if deflection > 0 else "sag"


def _extreme_sd(offset: Array, spread: Array, deflection: float) -> float:
    """Return the root mean square of drawn deflections about the one reported."""
    inner = slice(1, -1)
    drawn = draws(offset[inner], spread[inner, inner])
    extreme = drawn[np.arange(len(drawn)), np.argmax(np.abs(drawn), axis=1)]
    return float(np.sqrt(np.mean((extreme - deflection) ** 2)))
