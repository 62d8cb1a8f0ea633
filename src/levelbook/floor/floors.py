"""True floors to simulate: heights in inches over plan coordinates in feet."""

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np

from levelbook.floor.model import Array

Height = Callable[[Array], Array]
FloorKind = Literal[
    "level",
    "tilt",
    "dome",
    "dish",
    "edge droop",
    "corner droop",
    "hinge",
    "hog and tilt",
    "process",
]
KINDS: tuple[FloorKind, ...] = get_args(FloorKind)
WAVES = 400  # cosines that make one draw of the process


def draw_floor(
    rng: np.random.Generator, kind: FloorKind, outline: tuple[tuple[float, float], ...]
) -> Height:
    """Draw a floor of one kind over a footprint: its size, place and direction are random.

    Every kind but ``level`` and ``tilt`` also carries a small random tilt.
    """
    corners = np.asarray(outline, dtype=float)
    low, high = corners.min(axis=0), corners.max(axis=0)
    if kind == "level":
        return lambda xy: np.zeros(len(xy))
    rise = rng.uniform(0.3, 1.2) if kind in ("tilt", "hog and tilt") else rng.uniform(0.0, 0.4)
    tilt = _plane(rng, low, high, rise)
    if kind == "tilt":
        return tilt
    shape = _DRAWN[kind](rng, low, high)
    return lambda xy: tilt(xy) + shape(xy)


def _direction(rng: np.random.Generator) -> Array:
    angle = rng.uniform(0.0, 2.0 * np.pi)
    return np.array([np.cos(angle), np.sin(angle)])


def _plane(rng: np.random.Generator, low: Array, high: Array, rise: float) -> Height:
    slope = _direction(rng) * rise / float((high - low).max())
    return lambda xy: np.asarray(xy @ slope)


def _dome(rng: np.random.Generator, low: Array, high: Array) -> Height:
    size = rng.uniform(0.4, 1.5)
    middle = 0.5 * (low + high) + rng.uniform(-0.15, 0.15, 2) * (high - low)
    half = 0.5 * (high - low)
    return lambda xy: np.asarray(-0.5 * size * (((xy - middle) / half) ** 2).sum(axis=1))


def _dish(rng: np.random.Generator, low: Array, high: Array) -> Height:
    dome = _dome(rng, low, high)
    return lambda xy: -dome(xy)


def _edge_droop(rng: np.random.Generator, low: Array, high: Array) -> Height:
    size, reach = rng.uniform(0.4, 1.5), rng.uniform(8.0, 14.0)
    axis, far = int(rng.integers(2)), bool(rng.integers(2))

    def height(xy: Array) -> Array:
        away = high[axis] - xy[:, axis] if far else xy[:, axis] - low[axis]
        return np.asarray(-size * np.maximum(0.0, 1.0 - away / reach) ** 2)

    return height


def _corner_droop(rng: np.random.Generator, low: Array, high: Array) -> Height:
    size, reach = rng.uniform(0.4, 1.5), rng.uniform(12.0, 22.0)
    corner = np.where(rng.integers(0, 2, 2) == 1, low, high)

    def height(xy: Array) -> Array:
        away = np.hypot(*(xy - corner).T)
        return np.asarray(-size * np.maximum(0.0, 1.0 - away / reach) ** 2)

    return height


def _hinge(rng: np.random.Generator, low: Array, high: Array) -> Height:
    size, across = rng.uniform(0.3, 1.2), _direction(rng)
    middle = 0.5 * (low + high) + rng.uniform(-0.2, 0.2, 2) * (high - low)
    reach = 0.5 * float(np.abs(across) @ (high - low))
    return lambda xy: np.asarray(-size * np.maximum(0.0, (xy - middle) @ across) / reach)


def _hog(rng: np.random.Generator, low: Array, high: Array) -> Height:
    size, along = rng.uniform(0.3, 1.2), _direction(rng)
    middle, reach = 0.5 * (low + high), 0.5 * float(np.abs(along) @ (high - low))
    return lambda xy: np.asarray(-size * (((xy - middle) @ along) / reach) ** 2)


def _process(rng: np.random.Generator, low: Array, high: Array) -> Height:
    """Draw a Matérn 5/2 process as a sum of random cosines (Rahimi & Recht 2007, NIPS 20)."""
    size, length = rng.uniform(0.2, 0.5), rng.uniform(12.0, 24.0)
    normal, spread = rng.standard_normal((WAVES, 2)), rng.chisquare(5.0, WAVES)
    waves = normal / np.sqrt(spread / 5.0)[:, None] / length
    phases = rng.uniform(0.0, 2.0 * np.pi, WAVES)
    scale = size * np.sqrt(2.0 / WAVES)
    return lambda xy: np.asarray(scale * np.cos(xy @ waves.T + phases).sum(axis=1))


_DRAWN: dict[str, Callable[[np.random.Generator, Array, Array], Height]] = {
    "dome": _dome,
    "dish": _dish,
    "edge droop": _edge_droop,
    "corner droop": _corner_droop,
    "hinge": _hinge,
    "hog and tilt": _hog,
    "process": _process,
}
