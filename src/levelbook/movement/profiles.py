"""Both visits' floors along one line, the later put on the zero of the earlier."""

from dataclasses import dataclass, replace

import numpy as np

from levelbook.book.units import convert, rise_per_run
from levelbook.floor.fit import fit_surface
from levelbook.floor.model import Point, Profile
from levelbook.floor.profiles import profile
from levelbook.floor.surface import Surface
from levelbook.movement.matching import level_scale
from levelbook.movement.model import Comparison, Visit

Line = tuple[Point, Point]


@dataclass(frozen=True)
class BothProfiles:
    """One line on both visits, in the earlier visit's units and on its zero.

    Each has its own standard deviations; the two agree on average where stations hold.
    """

    name: str
    area: str
    earlier: Profile
    later: Profile


def both_profiles(comparison: Comparison) -> tuple[BothProfiles, ...]:
    """Return every drawn section on both visits; without sections, the main area's worst line.

    A line is left out where one of the visits has no surface in its area, or no station of
    it holds the visits together.
    """
    lines = [(s.section, s.area, s.change.line) for s in comparison.sections.values()]
    main = comparison.areas.get(comparison.main)
    if not lines and main is not None and main.deflection is not None:
        lines = [("", main.area, main.deflection.line)]
    surfaces = {area: _surfaces(comparison, area) for area in dict.fromkeys(a for _, a, _ in lines)}
    found = [_both(comparison, line, surfaces[line[1]]) for line in lines]
    return tuple(each for each in found if each is not None)


def _surfaces(comparison: Comparison, area: str) -> tuple[Surface, Surface] | None:
    """Return the surfaces of one area on both visits, if both have one."""
    first = _surface(comparison.earlier, area)
    later = _later_area(comparison, area)
    second = None if later is None else _surface(comparison.later, later)
    return None if first is None or second is None else (first, second)


def _surface(visit: Visit, area: str) -> Surface | None:
    fitted = fit_surface(visit.levels, visit.book, area)
    return fitted if isinstance(fitted, Surface) else None


def _later_area(comparison: Comparison, area: str) -> str | None:
    """Return the later visit's area that most of an earlier area's stations stand in."""
    first = {s.id: s.area for s in comparison.earlier.book.stations}
    second = {s.id: s.area for s in comparison.later.book.stations}
    homes = [second[p.later] for p in comparison.matching.pairs if first[p.earlier] == area]
    return max(set(homes), key=homes.count) if homes else None


def _both(
    comparison: Comparison, line: tuple[str, str, Line], surfaces: tuple[Surface, Surface] | None
) -> BothProfiles | None:
    name, area, ends = line
    if surfaces is None:
        return None
    shift = _shift(comparison, surfaces)
    if shift is None:
        return None
    earlier, later = comparison.earlier, comparison.later
    first = profile(surfaces[0], ends, rise_per_run(earlier.book.units), name)
    scale = _plan_scale(comparison)
    (a, b), (c, d) = ends
    there = ((a * scale, b * scale), (c * scale, d * scale))
    second = profile(surfaces[1], there, rise_per_run(later.book.units), name)
    return BothProfiles(
        name, area, first, _on_zero(second, first, level_scale(earlier, later), shift)
    )


def _plan_scale(comparison: Comparison) -> float:
    """Return the factor from the earlier visit's plan unit to the later one's."""
    earlier, later = comparison.earlier.book.units.plan, comparison.later.book.units.plan
    return convert(1.0, earlier, later)


def _shift(comparison: Comparison, surfaces: tuple[Surface, Surface]) -> float | None:
    """Return how far the later surface stands above the earlier one where stations hold.

    It is taken between the surfaces, not the levels: a surface knows its zero through its
    neighbours, so that the choice of the zero has no say.
    """
    first, second = surfaces
    held = set(comparison.datum.stations) & set(first.stations)
    pairs = [
        pair
        for pair in comparison.matching.pairs
        if pair.earlier in held and pair.later in second.stations
    ]
    if not pairs:
        return None
    places = {s.id: s.at for s in comparison.earlier.book.stations}
    at = np.array([places[pair.earlier] for pair in pairs], dtype=float)
    before = first.predict(at)[0]
    after = second.predict(at * _plan_scale(comparison))[0]
    scale = level_scale(comparison.earlier, comparison.later)
    return float(np.mean(after * scale - before))


def _on_zero(later: Profile, earlier: Profile, scale: float, shift: float) -> Profile:
    """Return the later profile in the earlier visit's units and on its zero."""
    return replace(
        earlier,
        deflection=later.deflection * scale,
        sd=later.sd * scale,
        ratio=later.ratio,
        shape=later.shape,
        level=np.asarray(later.level * scale - shift),
        level_sd=np.asarray(later.level_sd * scale),
        offset=np.asarray(later.offset * scale),
    )
