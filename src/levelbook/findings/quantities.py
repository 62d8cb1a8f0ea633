"""The closed list of quantities that a criterion may limit, and the units of each.

Deflection ratio (chord removed), tilt, raw slope between two points (tilt included) and
angular distortion (rotation between neighbouring spans, tilt removed) are four different
things: a limit on one is never compared with another. Garage fall (to the vehicle door) and
ground fall (away from a wall) are signed, + where water runs away from the house.
"""

from typing import Literal

from levelbook.book.units import METRES

Quantity = Literal[
    "deflection ratio",
    "tilt",
    "raw slope",
    "angular distortion",
    "tilt since construction",
    "range",
    "range across",
    "crack width",
    "elevation",
    "straightedge gap",
    "reading gap",
    "garage fall",
    "ground fall",
]
Dimension = Literal["slope", "length"]

SLOPES = {
    "ratio": 1.0,
    "percent": 0.01,
    "mm per m": 0.001,
    "in per ft": 1 / 12,
    "in per 20 ft": 1 / 240,
}
"""Slope units in rise over run, exact by definition of the inch and the foot."""

DIMENSION: dict[Quantity, Dimension] = {
    "deflection ratio": "slope",
    "tilt": "slope",
    "raw slope": "slope",
    "angular distortion": "slope",
    "tilt since construction": "slope",
    "range": "length",
    "range across": "slope",
    "crack width": "length",
    "elevation": "length",
    "straightedge gap": "length",
    "reading gap": "length",
    "garage fall": "slope",
    "ground fall": "slope",
}

FALLS: tuple[Quantity, ...] = ("garage fall", "ground fall")
"""Quantities that are asked to reach a limit, not to stay under it."""

UNMEASURED: dict[Quantity, str] = {
    "angular distortion": "why.angular-distortion",
    "tilt since construction": "why.since-construction",
    "elevation": "why.elevation",
    "straightedge gap": "why.straightedge",
}
"""Quantities that spaced floor readings do not give, with the key of the reason in words."""


def units_of(quantity: Quantity) -> tuple[str, ...]:
    """Return the units in which a limit on ``quantity`` may be written."""
    return tuple(SLOPES if DIMENSION[quantity] == "slope" else METRES)


def factor(unit: str, to: str) -> float:
    """Return what a number in ``unit`` is multiplied by to stand in unit ``to``.

    Raises
    ------
    KeyError
        If the units are unknown or of different dimensions.
    """
    table = SLOPES if unit in SLOPES else METRES
    return table[unit] / table[to]
