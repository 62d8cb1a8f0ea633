"""The shape of every area of one visit, gathered."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from levelbook.book.model import Area, Book, Units
from levelbook.book.units import rise_per_run
from levelbook.floor.bend import bend
from levelbook.floor.chords import clip_line, wall_lines, worst_chord
from levelbook.floor.coverage import coverage, next_places
from levelbook.floor.fit import fit_surface, floor_prior
from levelbook.floor.footprint import Footprint, Sampled, footprint
from levelbook.floor.grid import NO_GRID, make_grid, make_mean_grid
from levelbook.floor.hedge import Hedged, hedge
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
from levelbook.floor.profiles import profile, profiles
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


def shape_floor(
    book: Book, levels: Levels, *, min_apart: float | None = None, shown: bool = True
) -> Floor:
    """Return the shape of every area of one visit.

    Parameters
    ----------
    book, levels
        The visit and its adjusted levels.
    min_apart
        Least distance between the two stations of the steepest slope, plan units; 10 ft or
        3 m unless given.
    shown
        Without it, what is only shown is left out, a quarter to a third of the time: there are
        no profiles of walls and sections, no places to read next, and grids have no nodes.
    """
    return _floor(book, levels, min_apart, _ALL if shown else _FIGURES)


def live_floor(book: Book, levels: Levels) -> Floor:
    """Return of the shape what a page shows after each reading, the same as above but sooner.

    There are no profiles of walls and sections, and grids have no standard errors.
    """
    return _floor(book, levels, None, _LIVE)


@dataclass(frozen=True, slots=True)
class _Parts:
    """What of a shape is asked for, besides its figures."""

    lines: bool
    next: bool
    grid: Callable[[Surface, Area], Grid]


_ALL = _Parts(lines=True, next=True, grid=lambda s, a: make_grid(s, a.outline, a.holes))
_LIVE = _Parts(lines=False, next=True, grid=lambda s, a: make_mean_grid(s, a.outline, a.holes))
_FIGURES = _Parts(lines=False, next=False, grid=lambda _s, _a: NO_GRID)


def _floor(book: Book, levels: Levels, min_apart: float | None, parts: _Parts) -> Floor:
    apart = scales(book.units.plan).min_apart if min_apart is None else min_apart
    fitted = {area.id: fit_surface(levels, book, area.id) for area in book.areas}
    places = {
        area.id: _Place(
            area, book.units, footprint(area), hedge(found, floor_prior(area, book.units))
        )
        for area in book.areas
        if isinstance(found := fitted[area.id], Surface)
    }
    few = {i: found for i, found in fitted.items() if isinstance(found, TooFew)}
    return Floor(
        areas={i: few.get(i) or _area_shape(levels, places[i], apart, parts) for i in fitted},
        sections=_sections(book, places) if parts.lines else {},
        suspects=find_suspects(book, levels, fitted),
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """An area with its footprint and its fitted surface, hedged."""

    area: Area
    units: Units
    floor: Footprint
    hedged: Hedged


def _area_shape(levels: Levels, place: _Place, apart: float, parts: _Parts) -> AreaShape:
    scale, factor = scales(place.units.plan), rise_per_run(place.units)
    area, floor, hedged = place.area, place.floor, place.hedged
    surface, cells = hedged.surface, floor.cells(CELLS)
    sampled = Sampled(cells, *surface.joint(cells.xy))
    chord = worst_chord(surface, floor, min(scale.min_chord, floor.shorter_side))
    reading = float(np.median(np.diag(surface.noise))) + surface.hyper.unevenness**2
    places = next_places(sampled, reading) if parts.next else ()
    lines = {} if chord is None else {"worst chord": chord}
    if parts.lines:
        walls = enumerate(wall_lines(floor, scale.wall), start=1)
        lines |= {f"wall {number}": wall for number, wall in walls}
    drawn = {found.source: found for found in profiles(hedged, lines, factor)}
    return AreaShape(
        area=area.id,
        group=surface.group,
        surface=surface,
        grid=parts.grid(surface, area),
        range=level_range(levels, surface.stations),
        tilt=tilt(sampled, np.column_stack([surface.xy, surface.level]), factor, surface.noise),
        steepest=steepest(hedged, apart, factor),
        deflection=drawn.pop("worst chord", None),
        walls=tuple(drawn.values()),
        bend=bend(surface, floor, sampled, place.units),
        coverage=coverage(floor, surface.xy, scale, places),
    )


def _sections(book: Book, places: Mapping[str, _Place]) -> dict[str, Profile]:
    """Return the profiles of the drawn sections, each over the area that holds most of it."""
    factor, slack = rise_per_run(book.units), scales(book.units.plan).slack
    found = {}
    for section in book.sections:
        pieces = [(p.hedged, clip_line(p.floor, section.line, slack)) for p in places.values()]
        held = [(hedged, line) for hedged, line in pieces if line is not None]
        if held:
            hedged, line = max(held, key=lambda piece: math.dist(*piece[1]))
            found[section.id] = profile(hedged, line, factor, f"section {section.id}")
    return found
