"""Levels to shape: one fitted surface an area, and what follows from it.

>>> floor = shape_floor(book, levels)                            # doctest: +SKIP
>>> floor.areas["house"].tilt.slope, floor.areas["house"].tilt.sd   # doctest: +SKIP
"""

from levelbook.floor.fit import fit_surface
from levelbook.floor.grid import contour_interval, contours, make_grid
from levelbook.floor.model import (
    Bend,
    Contour,
    Coverage,
    Grid,
    Hyperparameters,
    NextPlace,
    Profile,
    Range,
    Steepest,
    Suspect,
    Tilt,
    TooFew,
)
from levelbook.floor.profiles import profile
from levelbook.floor.shape import AreaShape, Floor, live_floor, shape_floor
from levelbook.floor.surface import Surface
from levelbook.floor.suspects import find_suspects

__all__ = [
    "AreaShape",
    "Bend",
    "Contour",
    "Coverage",
    "Floor",
    "Grid",
    "Hyperparameters",
    "NextPlace",
    "Profile",
    "Range",
    "Steepest",
    "Surface",
    "Suspect",
    "Tilt",
    "TooFew",
    "contour_interval",
    "contours",
    "find_suspects",
    "fit_surface",
    "live_floor",
    "make_grid",
    "profile",
    "shape_floor",
]
