"""The shape of every area of one visit, gathered."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from levelbook.book.model import Area, Book
from levelbook.book.units import rise_per_run
from levelbook.floor.bend import bend
from levelbook.floor.chords import clip_line, wall_lines, worst_chord
from levelbook.floor.coverage import coverage, next_places
from levelbook.floor.fit import fit_surface
from levelbook.floor.footprint import Footprint, Sampled, footprint
from levelbook.floor.grid import make_grid
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
from levelbook.floor.profiles import profile
from levelbook.floor.scales import scales
from levelbook.floor.slopes import level_range, steepest
from levelbook.floor.surface import Surface
from levelbook.floor.suspects import find_suspects
from levelbook.floor.tilt import tilt
from levelbook.levels.model import Levels

CELLS = 300
"""Pieces that a footprint is cut into, about."""


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
    """All areas by id, drawn sections by id, and the readings that do not fit.

    A drawn section belongs to the area that holds most of it and runs over the longest
    piece on that area's floor; one that crosses no area with a surface has no profile.
    """

    areas: Mapping[str, AreaShape | TooFew]
    sections: Mapping[str, Profile]
    suspects: tuple[Suspect, ...]


def shape_floor(book: Book, levels: Levels, *, min_apart: float | None = None) -> Floor:
    """Return the shape of every area of one visit.

    Parameters
    ----------
    book, levels
        The visit and its adjusted levels.
    min_apart
        Least distance between the two stations of the steepest slope, plan units; 10 ft or
        3 m unless given.
    """
    apart = scales(book.units.plan).min_apart if min_apart is None else min_apart
    fitted = {area.id: fit_surface(levels, book, area.id) for area in book.areas}
    surfaces = {i: s for i, s in fitted.items() if isinstance(s, Surface)}
    floors = {area.id: footprint(area) for area in book.areas if area.id in surfaces}
    areas: dict[str, AreaShape | TooFew] = {}
    for area in book.areas:
        found = fitted[area.id]
        if isinstance(found, Surface):
            areas[area.id] = _area_shape(book, levels, area, found, floors[area.id], apart)
        else:
            areas[area.id] = found
    return Floor(areas, _sections(book, surfaces, floors), find_suspects(book, levels, fitted))


def _area_shape(
    book: Book, levels: Levels, area: Area, surface: Surface, floor: Footprint, apart: float
) -> AreaShape:
    scale, factor = scales(book.units.plan), rise_per_run(book.units)
    cells = floor.cells(CELLS)
    sampled = Sampled(cells, *surface.joint(cells.xy))
    chord = worst_chord(surface, floor, min(scale.min_chord, floor.shorter_side))
    reading = float(np.median(np.diag(surface.noise))) + surface.hyper.unevenness**2
    return AreaShape(
        area=area.id,
        group=surface.group,
        surface=surface,
        grid=make_grid(surface, area.outline, area.holes),
        range=level_range(levels, surface.stations),
        tilt=tilt(sampled, np.column_stack([surface.xy, surface.level]), factor),
        steepest=steepest(surface, apart, factor),
        deflection=None if chord is None else profile(surface, chord, factor, "worst chord"),
        walls=tuple(
            profile(surface, wall, factor, f"wall {number}")
            for number, wall in enumerate(wall_lines(floor, scale.wall), start=1)
        ),
        bend=bend(surface, floor, sampled, book.units),
        coverage=coverage(floor, surface.xy, scale, next_places(sampled, reading)),
    )


def _sections(
    book: Book, surfaces: Mapping[str, Surface], floors: Mapping[str, Footprint]
) -> dict[str, Profile]:
    """Return the profiles of the drawn sections, each over the area that holds most of it."""
    factor, slack = rise_per_run(book.units), scales(book.units.plan).slack
    found = {}
    for section in book.sections:
        pieces = [(i, clip_line(floor, section.line, slack)) for i, floor in floors.items()]
        held = [(i, line) for i, line in pieces if line is not None]
        if held:
            area, line = max(held, key=lambda piece: float(np.hypot(*np.subtract(*piece[1]))))
            found[section.id] = profile(surfaces[area], line, factor, f"section {section.id}")
    return found
