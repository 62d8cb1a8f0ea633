"""Visit against visit: what moved, by how much, how sure, and what cannot be known.

>>> found = compare(Visit(first, reduce(first)), Visit(second, reduce(second)))  # doctest: +SKIP
>>> found.areas[found.main].tilt.value, found.movements.stations["7"].moved     # doctest: +SKIP
"""

from levelbook.movement.compare import compare
from levelbook.movement.model import (
    AreaChange,
    Caveat,
    Change,
    Comparison,
    Congruence,
    Datum,
    DeflectionChange,
    Differences,
    Match,
    Matching,
    Movements,
    SectionChange,
    StationMovement,
    TiltChange,
    Variance,
    Visit,
)

__all__ = [
    "AreaChange",
    "Caveat",
    "Change",
    "Comparison",
    "Congruence",
    "Datum",
    "DeflectionChange",
    "Differences",
    "Match",
    "Matching",
    "Movements",
    "SectionChange",
    "StationMovement",
    "TiltChange",
    "Variance",
    "Visit",
    "compare",
]
