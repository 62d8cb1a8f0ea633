"""Change of shape: tilt, deflection and range of what moved, free of any choice of zero.

The differences of an area's matched stations are fitted with the same kind of surface as a
floor is (:mod:`levelbook.floor.surface`), their full covariance behind it. Its trend holds an
unknown constant, so the zero of neither visit has a say. Change of tilt is the plane of that
surface over the footprint, each square foot counted once; change of deflection along a line is
the deflection of that surface along it.
"""

import math
from dataclasses import replace

import numpy as np
from scipy.special import chdtrc

from levelbook.book.model import Area
from levelbook.book.units import rise_per_run
from levelbook.floor.chords import clip_line, worst_chord
from levelbook.floor.fit import fit_sample, floor_prior
from levelbook.floor.footprint import Footprint, footprint
from levelbook.floor.model import Hyperparameters, Profile
from levelbook.floor.profiles import profile
from levelbook.floor.reml import Prior, Sample
from levelbook.floor.scales import scales
from levelbook.floor.surface import Surface
from levelbook.floor.tilt import downhill, plane_weights, slope_sd
from levelbook.movement.matching import level_scale
from levelbook.movement.model import (
    AreaChange,
    Array,
    Change,
    DeflectionChange,
    Differences,
    SectionChange,
    TiltChange,
    Variance,
    Visit,
)

CELLS = 300
LEARNT = 100
"""Stations that the surface's length and heights are learnt from; all are conditioned on."""
SHARE = 0.25
"""Median amplitude and unevenness of movement, as a share of a new floor's. Our choice."""
Z95 = 1.959963984540054
ALPHA = 0.05


def area_changes(
    earlier: Visit, later: Visit, differences: Differences, variance: Variance
) -> dict[str, AreaChange]:
    """Return the change of shape of every area that has matched stations."""
    homes = {s.id: s.area for s in earlier.book.stations}
    found = {}
    for area in earlier.book.areas:
        rows = [k for k, i in enumerate(differences.ids) if homes[i] == area.id]
        if rows:
            block = differences.block[rows]
            kept = np.array(rows)[block == np.bincount(block).argmax()]
            found[area.id] = _area_change(earlier, later, area, _part(differences, kept, variance))
    return found


def _part(differences: Differences, rows: Array, variance: Variance) -> Differences:
    """Return the differences of some stations, their covariance times the variance factor."""
    return Differences(
        tuple(differences.pairs[k] for k in rows),
        differences.d[rows],
        variance.factor * differences.covariance[np.ix_(rows, rows)],
        differences.block[rows],
    )


def _area_change(earlier: Visit, later: Visit, area: Area, part: Differences) -> AreaChange:
    surface = movement_surface(earlier, area, part)
    shown = _range_change(earlier, later, part)
    if surface is None:
        return AreaChange(area.id, len(part.ids), None, None, shown, None)
    place, factor = footprint(area), rise_per_run(earlier.book.units)
    chord = worst_chord(
        surface, place, min(scales(earlier.book.units.plan).min_chord, place.shorter_side)
    )
    return AreaChange(
        area=area.id,
        stations=len(part.ids),
        tilt=_tilt_change(surface, place, factor),
        deflection=None
        if chord is None
        else deflection_change(profile(surface, chord, factor, "worst chord")),
        range=shown,
        surface=surface,
    )


def movement_surface(earlier: Visit, area: Area, part: Differences) -> Surface | None:
    """Return the surface fitted to the differences of one area, if there are enough."""
    places = {s.id: s.at for s in earlier.book.stations}
    xy = np.array([places[i] for i in part.ids], dtype=float).reshape(-1, 2)
    sample = Sample(xy, part.d, part.covariance)
    of = (area.id, f"{part.block[0]}", part.ids)
    fitted = fit_sample(sample, movement_prior(earlier, area), of, LEARNT)
    return fitted if isinstance(fitted, Surface) else None


def movement_prior(earlier: Visit, area: Area) -> Prior:
    """Return the priors of an area's movement: a floor's, with smaller heights."""
    prior = floor_prior(area, earlier.book.units)
    median = prior.median
    return replace(
        prior,
        median=Hyperparameters(SHARE * median.amplitude, median.length, SHARE * median.unevenness),
    )


def _tilt_change(surface: Surface, place: Footprint, factor: float) -> TiltChange:
    """Return the plane of the movement over the footprint, and its test.

    It is significant only where both the vector (chi-square) and its length stand out, so
    that what is called a change never has an interval that holds none.
    """
    cells = place.cells(CELLS)
    weights = plane_weights(cells.xy, cells.share) * factor
    gradient, spread = surface.functional(weights, cells.xy)
    x, y = map(float, gradient)
    p = float(chdtrc(2, gradient @ np.linalg.solve(spread, gradient)))
    value, sd = math.hypot(x, y), slope_sd(gradient, spread)
    return TiltChange(
        value=value,
        sd=sd,
        significant=p < ALPHA and value > Z95 * sd,
        x=x,
        y=y,
        covariance=(
            (float(spread[0, 0]), float(spread[0, 1])),
            (float(spread[1, 0]), float(spread[1, 1])),
        ),
        p=p,
        direction=downhill(x, y),
    )


def deflection_change(movement: Profile) -> DeflectionChange:
    """Return the deflection of the movement along a line as a change."""
    return DeflectionChange(
        value=movement.deflection,
        sd=movement.sd,
        significant=abs(movement.deflection) > Z95 * movement.sd,
        line=movement.line,
        length=movement.length,
        source=movement.source,
    )


def _range_change(earlier: Visit, later: Visit, part: Differences) -> Change | None:
    """Return range of the later levels less that of the earlier, over the matched stations."""
    if len(part.ids) < 2:
        return None
    scale = level_scale(earlier, later)
    first, before = _spread(earlier, [p.earlier for p in part.pairs])
    second, after = _spread(later, [p.later for p in part.pairs])
    sd = math.hypot(before, after * scale)
    value = second * scale - first
    return Change(value, sd, abs(value) > Z95 * sd)


def _spread(visit: Visit, ids: list[str]) -> tuple[float, float]:
    """Return highest minus lowest level of some stations, and its sd."""
    level = visit.levels.level[[visit.levels.index[i] for i in ids]]
    ends = [ids[int(level.argmax())], ids[int(level.argmin())]]
    covariance = visit.levels.covariance(ends)
    contrast = np.array([1.0, -1.0])
    variance = 0.0 if ends[0] == ends[1] else float(contrast @ covariance @ contrast)
    return float(np.ptp(level)), math.sqrt(max(variance, 0.0))


def section_changes(earlier: Visit, areas: dict[str, AreaChange]) -> dict[str, SectionChange]:
    """Return the movement along every drawn section of the earlier visit.

    A section belongs to the area that holds most of it, as in the shape of one visit.
    """
    factor = rise_per_run(earlier.book.units)
    slack = scales(earlier.book.units.plan).slack
    floors = {a.id: footprint(a) for a in earlier.book.areas if a.id in areas}
    found = {}
    for section in earlier.book.sections:
        pieces = [(i, clip_line(floor, section.line, slack)) for i, floor in floors.items()]
        held = [(i, line) for i, line in pieces if line is not None]
        if not held:
            continue
        area, line = max(held, key=lambda piece: math.dist(*piece[1]))
        surface = areas[area].surface
        if surface is not None:
            along = profile(surface, line, factor, f"section {section.id}")
            found[section.id] = SectionChange(section.id, area, deflection_change(along), along)
    return found
