"""The shape of every area of one visit, gathered."""

from collections.abc import Mapping
from dataclasses import dataclass

from levelbook.floor.model import (
    Bend,
    Coverage,
    Grid,
    Profile,
    Range,
    Steepest,
    Suspect,
    Tilt,
    TooFew,
)
from levelbook.floor.surface import Surface


@dataclass(frozen=True)
class AreaShape:
    """One area: its fitted surface and what follows from it."""

    area: str
    group: str
    surface: Surface
    grid: Grid
    range: Range
    tilt: Tilt
    steepest: Steepest | None
    deflection: Profile | None
    walls: tuple[Profile, ...]
    bend: Bend
    coverage: Coverage


@dataclass(frozen=True)
class Floor:
    """All areas by id, drawn sections by id, and the readings that do not fit."""

    areas: Mapping[str, AreaShape | TooFew]
    sections: Mapping[str, Profile]
    suspects: tuple[Suspect, ...]
