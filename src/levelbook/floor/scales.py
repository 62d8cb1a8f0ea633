"""Lengths that the trade names in round figures of either system of units.

The two columns are each customary in their own system and are not conversions of one
another; where each comes from is said beside it.
"""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Scales:
    """Round lengths in plan units.

    Attributes
    ----------
    min_apart
        Shortest distance over which a raw slope is reported (common practice).
    min_chord
        Shortest chord of the worst profile, unless the floor's shorter side is less.
    wall
        Shortest straight wall that gets a profile of its own.
    spacing
        Distance between readings that is asked for (common practice: 6 to 8 ft preferred).
    corner
        A corner is read where a station lies within this distance of it.
    jog
        Walls shorter than this are jogs and make no corner.
    slack
        How far off the floor a drawn section may lie and still count as along it.
    """

    min_apart: float
    min_chord: float
    wall: float
    spacing: float
    corner: float
    jog: float
    slack: float


_SCALES = {
    "ft": Scales(10.0, 20.0, 10.0, 8.0, 4.0, 3.0, 0.5),
    "m": Scales(3.0, 6.0, 3.0, 2.5, 1.2, 1.0, 0.15),
}


def scales(plan: Literal["ft", "m"]) -> Scales:
    """Return the round lengths in the plan unit of a book."""
    return _SCALES[plan]
