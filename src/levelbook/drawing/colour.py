"""Colours made in OKLab, where equal distances look equally far apart.

Source of the transform: Björn Ottosson, "A perceptual color space for image processing"
(2020), with the sRGB transfer curve of IEC 61966-2-1. The ramps are our own.
"""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_LMS = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)

Stops = tuple[tuple[float, float, float], ...]
"""Lightness 0..1, chroma and hue in degrees."""

LEVEL: Stops = ((0.685, 0.080, 248), (0.880, 0.008, 240), (0.950, 0.056, 92))
"""Low, middle, high. Lightness only ever rises, so that darker is lower without colour too;
blue against yellow is told apart in every common kind of colour blindness."""

APART: Stops = ((0.72, 0.050, 155), (0.955, 0.022, 130))
"""Levels that hang on a zero of their own: never on the same ramp as the others."""

ERROR: Stops = ((0.980, 0.006, 320), (0.70, 0.080, 325))
"""Small to large standard error."""


def _lab(stops: Stops) -> Array:
    """Return stops (n, 3) as lightness, a and b."""
    lightness, chroma, hue = np.array(stops, float).T
    turn = np.radians(hue)
    return np.column_stack([lightness, chroma * np.cos(turn), chroma * np.sin(turn)])


def _hex(lab: Array) -> str:
    """Return one OKLab colour as #rrggbb, cut to what a screen can show."""
    linear = np.clip(_RGB @ (_LMS @ lab) ** 3, 0.0, 1.0)
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * v):02x}" for v in curve)


def ramp(stops: Stops, at: Sequence[float]) -> tuple[str, ...]:
    """Return the colours at places 0..1 of a ramp; between stops equal steps look equal."""
    return _ramp(stops, tuple(round(float(t), 4) for t in at))


@lru_cache(maxsize=256)
def _ramp(stops: Stops, at: tuple[float, ...]) -> tuple[str, ...]:
    lab, place = _lab(stops), np.linspace(0.0, 1.0, len(stops))
    channels = np.column_stack([np.interp(at, place, lab[:, i]) for i in range(3)])
    return tuple(_hex(row) for row in channels)


def to_oklab(linear: Array) -> Array:
    """Return a colour (3,) of linear red, green and blue, 0..1, in OKLab."""
    return np.asarray(np.linalg.solve(_LMS, np.cbrt(np.linalg.solve(_RGB, linear))))


def lightness(colour: str) -> float:
    """Return the OKLab lightness 0..1 of a #rrggbb colour: how it reads without colour."""
    raw = np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(raw <= 0.04045, raw / 12.92, ((raw + 0.055) / 1.055) ** 2.4)
    return float(to_oklab(linear)[0])
