"""How well the stations cover a footprint, and where the next reading helps most."""

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from levelbook.floor.footprint import Footprint, Sampled
from levelbook.floor.model import Array, Coverage, NextPlace, Point
from levelbook.floor.scales import Scales

Pieces = NDArray[np.object_]

_NEXT = 5
_LEAST_GAIN = 0.005  # of the mean variance: a place that gains less is not worth naming
_ROUND = 48  # segments a quarter circle, so that areas of discs are right to 2 in 10 000


def coverage(
    place: Footprint, stations: Array, scale: Scales, places: tuple[NextPlace, ...]
) -> Coverage:
    """Return how well ``stations`` (n, 2) cover a footprint.

    The largest gap is the largest distance from a place on the floor to its nearest
    station, exact; ``share_beyond`` is the share of the floor farther than the spacing
    asked from any station; a corner is missed where no station lies near it.
    """
    own = _nearest_pieces(place, stations)
    gap, at = _largest_gap(own, stations)
    corners = place.corners(scale.jog)
    missed = corners[_nearest(stations, corners)[0] > scale.corner * (1 + 1e-9)]
    return Coverage(
        largest_gap=gap,
        largest_gap_at=at,
        spacing=scale.spacing,
        share_beyond=_share_beyond(place, own, stations, scale.spacing),
        missed_corners=tuple((float(x), float(y)) for x, y in missed),
        next=places,
    )


def _nearest(stations: Array, places: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return the distance to the nearest station and its index, (k,) each."""
    distance, index = cKDTree(stations).query(places)
    return np.asarray(distance, dtype=float), np.asarray(index, dtype=np.intp)


def _nearest_pieces(place: Footprint, stations: Array) -> Pieces:
    """Return the pieces of the floor, each nearer to one station than to any other.

    The cells round stations on one circle come with corners out of order by rounding; being
    convex, they are what their hulls are. Only those that reach the edge need cutting.
    """
    distinct = shapely.MultiPoint(np.unique(stations, axis=0))
    cells = shapely.get_parts(shapely.voronoi_polygons(distinct, extend_to=place.polygon))
    pieces = shapely.convex_hull(cells) if len(cells) else np.array([place.polygon])
    shapely.prepare(place.polygon)
    edge = ~shapely.contains_properly(place.polygon, pieces)
    pieces[edge] = shapely.intersection(pieces[edge], place.polygon)
    return np.asarray(pieces[shapely.area(pieces) > 0])


def _largest_gap(pieces: Pieces, stations: Array) -> tuple[float, Point]:
    """Return the largest distance to the nearest station, and where.

    Within one piece the distance to its station is convex, so it is largest at a corner.
    """
    corners = shapely.get_coordinates(pieces)
    distance, _ = _nearest(stations, corners)
    worst = int(np.argmax(distance))
    x, y = corners[worst].tolist()
    return float(distance[worst]), (x, y)


def _share_beyond(place: Footprint, pieces: Pieces, stations: Array, spacing: float) -> float:
    """Return the share of the floor farther than ``spacing`` from any station."""
    middles = shapely.get_coordinates(shapely.point_on_surface(pieces))
    owners = stations[_nearest(stations, middles)[1]]
    corners, piece = shapely.get_coordinates(pieces, return_index=True)
    away = np.hypot(*(corners - owners[piece]).T)
    far = np.unique(piece[away > spacing])
    discs = shapely.buffer(shapely.points(owners[far]), spacing, quad_segs=_ROUND)
    beyond = float(shapely.area(shapely.difference(pieces[far], discs)).sum())
    return min(beyond / place.area, 1.0)


def next_places(sampled: Sampled, reading: float) -> tuple[NextPlace, ...]:
    """Return up to five places where one more reading lowers the mean variance most.

    Chosen one after another, each as if those before it had been read. ``gain`` is how much
    the root mean square sd over the footprint falls, level units.

    Parameters
    ----------
    sampled
        The surface at pieces of the footprint: the places to choose from.
    reading
        Variance of one more reading about the surface: its own error and the unevenness.
    """
    cells, left = sampled.cells, sampled.covariance.copy()
    chosen: list[NextPlace] = []
    start = mean = float(cells.share @ np.diag(left))
    for _ in range(_NEXT):
        gains = (cells.share @ left**2) / (np.maximum(np.diag(left), 0.0) + reading)
        best = int(np.argmax(gains))
        if not gains[best] > _LEAST_GAIN * start:
            break
        x, y = cells.xy[best].tolist()
        after = max(mean - float(gains[best]), 0.0)
        chosen.append(NextPlace((x, y), math.sqrt(mean) - math.sqrt(after)))
        mean = after
        column = left[:, best] / math.sqrt(max(left[best, best], 0.0) + reading)
        left -= np.outer(column, column)
    return tuple(chosen)
