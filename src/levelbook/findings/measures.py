"""The measured side of a criterion: one value with its sd, or the reason why there is none."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from levelbook.book.model import Area, Book, Distress
from levelbook.book.units import rise_per_run
from levelbook.findings.criteria import Criterion
from levelbook.findings.quantities import Quantity, factor
from levelbook.findings.written import width_of
from levelbook.floor.doorway import doorway, fall_to_door
from levelbook.floor.fit import floor_prior
from levelbook.floor.garage import marked
from levelbook.floor.hedge import hedge
from levelbook.floor.model import TooFew
from levelbook.floor.shape import AreaShape
from levelbook.floor.slopes import steepest


@dataclass(frozen=True)
class Why:
    """A reason in words: the key of its template and what fills it in."""

    key: str
    values: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Measure:
    """A value and its sd in a criterion's unit; ``value`` is ``None`` with the reason in ``why``.

    ``sd`` is ``None`` where the value is a matter of the plan, not of readings.
    """

    value: float | None
    sd: float | None
    why: Why | None = None


def missing(key: str, **values: str) -> Measure:
    """Return that nothing was measured, and why."""
    return Measure(None, None, Why(key, values))


@dataclass(frozen=True)
class Place:
    """One area of the book with its shape and the distress that belongs to it."""

    book: Book
    area: Area
    shape: AreaShape | TooFew
    distress: tuple[Distress, ...]

    @property
    def across(self) -> float:
        """The longer side of the smallest rectangle around the outline, plan units."""
        return longer_side(self.area)


def longer_side(area: Area) -> float:
    """Return the longer side of the smallest rectangle around an area, plan units."""
    box = shapely.Polygon(area.outline).minimum_rotated_rectangle
    corners = shapely.get_coordinates(box)
    return float(np.hypot(*np.diff(corners, axis=0).T).max())


def measure(criterion: Criterion, place: Place) -> Measure:
    """Return what was measured of the criterion's quantity in one area, in its unit."""
    if criterion.unmeasured is not None:
        return missing(criterion.unmeasured)
    if criterion.quantity == "crack width":
        return widest(place.distress, criterion.unit, place.book.units.level)
    if isinstance(place.shape, TooFew):
        shape = place.shape
        return missing("why.too-few", stations=str(shape.stations), needs=str(shape.needs))
    return MEASURES[criterion.quantity](criterion, place, place.shape)


def widest(distress: Sequence[Distress], unit: str, level: str) -> Measure:
    """Return the widest crack or separation written down, in ``unit``."""
    written = (width_of(d) for d in distress if d.kind in ("crack", "separation"))
    widths = [w for w in written if w is not None]
    if not widths:
        return missing("why.no-width")
    top = max(widths, key=lambda w: w.value)
    scale = factor(level, unit)
    return Measure(top.value * scale, top.sd * scale)


def _tilt(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    scale = factor("ratio", criterion.unit)
    return Measure(shape.tilt.slope * scale, shape.tilt.sd * scale)


def _raw_slope(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    apart = criterion.min_apart
    if apart is None:
        return missing("why.no-distance")
    units = place.book.units
    hedged = hedge(shape.surface, floor_prior(place.area, units))
    found = steepest(hedged, apart.to(units.plan), rise_per_run(units))
    if found is None:
        return missing("why.not-apart", distance=str(apart))
    scale = factor("ratio", criterion.unit)
    return Measure(abs(found.slope) * scale, found.sd * scale)


def _deflection(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    if shape.deflection is None:
        return missing("why.no-line")
    per_length = rise_per_run(place.book.units) / shape.deflection.length
    scale = per_length * factor("ratio", criterion.unit)
    return Measure(abs(shape.deflection.deflection) * scale, shape.deflection.sd * scale)


def _range(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    scale = factor(place.book.units.level, criterion.unit)
    return Measure(shape.range.value * scale, shape.range.sd * scale)


def _range_across(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    scale = rise_per_run(place.book.units) / place.across * factor("ratio", criterion.unit)
    return Measure(shape.range.value * scale, shape.range.sd * scale)


def _reading_gap(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    """Return how far apart readings on an even square grid are that leave the same gap.

    To nine places: readings that stand exactly as far apart as is asked are not beyond it.
    """
    scale = factor(place.book.units.plan, criterion.unit)
    return Measure(round(math.sqrt(2) * shape.coverage.largest_gap * scale, 9), None)


def _garage_fall(criterion: Criterion, place: Place, shape: AreaShape) -> Measure:
    """Return the fall to the vehicle door over its distance."""
    if place.area.vehicle_door is None:
        return missing("why.no-vehicle-door")
    if marked(place.book, place.area, "drain"):
        return missing("why.floor-drain")
    fall = fall_to_door(doorway(place.area), shape.surface)
    scale = rise_per_run(place.book.units) / fall.depth * factor("ratio", criterion.unit)
    return Measure(fall.value * scale, fall.sd * scale)


MEASURES: Mapping[Quantity, Callable[[Criterion, Place, AreaShape], Measure]] = {
    "tilt": _tilt,
    "raw slope": _raw_slope,
    "deflection ratio": _deflection,
    "range": _range,
    "range across": _range_across,
    "reading gap": _reading_gap,
    "garage fall": _garage_fall,
}
"""How each quantity that a surface gives is measured."""
