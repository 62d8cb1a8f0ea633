"""What is said about the shape of a floor: typed, frozen results.

Levels and deflections are in the document's level unit, distances in its plan unit,
slopes dimensionless (rise over run). ``sd`` is a standard deviation.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]
Shape = Literal["hog", "sag", "straight"]
BendWord = Literal[
    "level", "dome", "dish", "ridge", "trough", "saddle", "one edge", "one corner", "not resolved"
]
SuspectKind = Literal["residual", "decimal", "sign", "digits", "finish", "neighbours"]


@dataclass(frozen=True, slots=True)
class Hyperparameters:
    """Amplitude and small-scale unevenness in level units, length scale in plan units."""

    amplitude: float
    length: float
    unevenness: float


@dataclass(frozen=True)
class Grid:
    """The fitted surface on a regular grid over a footprint's bounding box.

    ``x`` (nx,) and ``y`` (ny,) rise in plan units; ``mean``, ``sd`` and ``inside`` (whether a
    node stands on the footprint) are (ny, nx). Nodes farther than a cell from the footprint
    are NaN.
    """

    x: Array
    y: Array
    inside: NDArray[np.bool_]
    mean: Array
    sd: Array


@dataclass(frozen=True)
class Contour:
    """One line of equal level, clipped to the footprint; ``line`` is (n, 2), plan units."""

    level: float
    line: Array


@dataclass(frozen=True, slots=True)
class Range:
    """Highest minus lowest station (ids)."""

    value: float
    sd: float
    high: str
    low: str


@dataclass(frozen=True, slots=True)
class Tilt:
    """Least-squares plane of the fitted surface over the whole footprint.

    ``x`` and ``y`` are the uphill gradient along the sheet's axes; ``direction`` points
    downhill, degrees clockwise from up the sheet, ``None`` where the slope is exactly 0.
    ``readings_*`` is the plain, unweighted plane through the station levels; ``readings_sd``
    is that of its slope as far as the levels' own errors go, ``None`` where these were not
    given.
    """

    slope: float
    sd: float
    direction: float | None
    x: float
    y: float
    x_sd: float
    y_sd: float
    readings_slope: float
    readings_direction: float | None
    readings_x: float
    readings_y: float
    readings_sd: float | None = None


@dataclass(frozen=True, slots=True)
class Steepest:
    """Steepest raw slope (tilt included) between two stations at least ``min_apart`` apart."""

    slope: float
    sd: float
    start: str
    end: str
    distance: float
    min_apart: float


@dataclass(frozen=True)
class Profile:
    """A line over the floor, its chord removed.

    ``deflection`` is signed, + hog, - sag; ``ratio`` is length over abs(deflection) in the
    same unit, ``None`` where the deflection is exactly 0. Arrays run along the line:
    ``distance`` (n,), ``level`` (n,), ``level_sd`` (n,), ``offset`` (n,) from the chord.
    """

    line: tuple[Point, Point]
    length: float
    deflection: float
    sd: float
    ratio: float | None
    shape: Shape
    at: Point
    source: str
    distance: Array
    level: Array
    level_sd: Array
    offset: Array


@dataclass(frozen=True, slots=True)
class Bend:
    """Principal curvatures (level unit per plan unit squared, + dish) and the word for them.

    The first is the one that bends the floor more over its extent; ``axis`` is the direction
    it bends in, degrees clockwise from up the sheet (0 to 180), ``None`` without any bend.
    ``why`` tells in one sentence what the word rests on.
    """

    word: BendWord
    curvatures: tuple[float, float]
    curvature_sds: tuple[float, float]
    axis: float | None
    why: str


@dataclass(frozen=True, slots=True)
class NextPlace:
    """A place where one more reading would lower the mean variance of the surface most."""

    at: Point
    gain: float


@dataclass(frozen=True, slots=True)
class Coverage:
    """How well the stations cover the footprint; corners by their coordinates."""

    largest_gap: float
    largest_gap_at: Point
    spacing: float
    share_beyond: float
    missed_corners: tuple[Point, ...]
    next: tuple[NextPlace, ...]


@dataclass(frozen=True, slots=True)
class Suspect:
    """A reading that does not fit, with the explanation that fits best; nothing is changed.

    ``expected`` and ``expected_sd`` are in the reading's own sense and place, so that they
    compare with the value as written. ``odds`` is for a slip against a sound reading.
    """

    reading: str
    station: str
    value: str
    expected: float
    expected_sd: float
    kind: SuspectKind
    suggestion: str | None
    odds: float
    why: str


@dataclass(frozen=True, slots=True)
class TooFew:
    """An area with too few read stations for a surface."""

    stations: int
    needs: int
