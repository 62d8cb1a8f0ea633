"""Signs of distress: which count, which are active, and to which area they belong."""

from collections.abc import Mapping

import shapely

from levelbook.book.model import Book, Distress
from levelbook.book.units import convert
from levelbook.findings.written import width_of

SIGN_KINDS = ("crack", "separation", "door-binding", "door-out-of-square", "repair-seen")
"""Kinds that count as a sign. A slope that is felt is what the readings measure already."""

HAIRLINE_MM = 0.1
"""A crack narrower than this is category 0: BRE Digest 251 (1995)."""

WIDE_MM = 5.0
"""A crack wider than this is category 3 or more: BRE Digest 251 (1995)."""

NEAR_FT = 10.0
"""How near is near: one spacing of readings (common practice, no source)."""


def near(plan: str) -> float:
    """Return one spacing of readings in the plan unit."""
    return convert(NEAR_FT, "ft", plan)


def is_sign(distress: Distress, level: str) -> bool:
    """Tell whether an entry counts as a sign of distress (no hairline crack does)."""
    if distress.kind not in SIGN_KINDS:
        return False
    width = width_of(distress)
    hairline = convert(HAIRLINE_MM, "mm", level)
    return width is None or distress.kind != "crack" or width.value >= hairline


def is_wide(distress: Distress, level: str) -> bool:
    """Tell whether a crack or gap is, or with its last digit may be, wider than 5 mm."""
    if distress.kind not in ("crack", "separation"):
        return False
    width = width_of(distress)
    return width is not None and width.value + 1.96 * width.sd > convert(WIDE_MM, "mm", level)


def is_fresh(distress: Distress, level: str) -> bool:
    """Tell whether a sign was written down as fresh."""
    return is_sign(distress, level) and distress.age == "fresh"


def is_active(distress: Distress, level: str) -> bool:
    """Tell whether a sign is fresh or wide."""
    return is_sign(distress, level) and (distress.age == "fresh" or is_wide(distress, level))


def is_settled(distress: Distress) -> bool:
    """Tell whether a sign was written down as old and nothing else."""
    return distress.age == "old" and distress.kind != "repair-seen"


def where(distress: Distress) -> shapely.Geometry | None:
    """Return the place or line of an entry, ``None`` where none was written down."""
    if distress.line is not None and len(distress.line) > 1:
        return shapely.LineString(distress.line)
    point = distress.at or (distress.line[0] if distress.line else None)
    return None if point is None else shapely.Point(point)


def by_area(book: Book) -> Mapping[str | None, tuple[Distress, ...]]:
    """Return the distress of each area; under ``None`` what belongs to no area.

    An entry belongs to the area it lies in, or to the nearest within one spacing of readings.
    """
    floors = {a.id: shapely.Polygon(a.outline) for a in book.areas}
    found: dict[str | None, list[Distress]] = {a.id: [] for a in book.areas} | {None: []}
    for each in book.distress:
        place = where(each)
        gaps = {} if place is None else {i: place.distance(f) for i, f in floors.items()}
        nearest = min(gaps, key=lambda i: gaps[i], default=None)
        close = nearest is not None and gaps[nearest] <= near(book.units.plan)
        found[nearest if close else None].append(each)
    return {area: tuple(entries) for area, entries in found.items()}
