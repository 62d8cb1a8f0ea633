"""Outlines of floors from drawings: closed lines become floors, those within them holes if so.

What is no closed line, or lies on no floor, is left and told. Units come from the drawing
where it tells them, else they are asked.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from levelbook.book.limits import CORNERS
from levelbook.exchange.cells import METRES, Unit
from levelbook.exchange.questions import Interview, refused

Ring = list[tuple[float, float]]
MOST_LINES = 1_000
"""Closed lines that are looked at; a drawing of a house with its furniture has fewer."""


@dataclass(frozen=True)
class Floor:
    """One floor: a name, its corners in order, and the outlines of what is not floor in it."""

    name: str
    outline: Ring
    holes: tuple[Ring, ...] = ()


@dataclass(frozen=True)
class Drawn:
    """A closed line as a drawing has it, in the drawing's own units, and where it stood."""

    place: str
    ring: Ring
    name: str | None = None
    hole: bool = False


def floors_of(drawn: Sequence[Drawn], scale: float, talk: Interview) -> tuple[Floor, ...]:
    """Return the floors among closed lines; ``scale`` makes plan units of drawing units.

    Raises
    ------
    DocumentError
        If there is no closed line among them.
    """
    if len(drawn) > MOST_LINES:
        problem = f"has {len(drawn):,} closed lines"
        raise refused("outline", "the drawing", problem, "keep the outlines of the floors alone")
    good = [(d, p) for d in drawn if (p := _polygon(d, scale, talk)) is not None]
    good.sort(key=lambda pair: -pair[1].area)
    outer: list[tuple[Drawn, shapely.Polygon, list[shapely.Polygon]]] = []
    inside = [pair for pair in good if _holder(pair[1], good) is not None]
    answer = _ask_inside(inside, talk)
    for one, polygon in good:
        holder = _holder(polygon, good)
        if holder is None:
            outer.append((one, polygon, []))
        elif one.hole or answer == "holes":
            next(holes for d, p, holes in outer if p.contains(polygon)).append(polygon)
        elif answer == "leave":
            talk.leave(one.place, one.name or "a closed line", "it lies within another outline")
    if not outer:
        remedy = "draw the floor as one closed line"
        raise refused("outline", "the drawing", "has no closed line to be a floor", remedy)
    names = _names([one for one, _, _ in outer])
    return tuple(
        Floor(name, _corners(polygon), tuple(map(_corners, holes)))
        for name, (_, polygon, holes) in zip(names, outer, strict=True)
    )


def _ask_inside(inside: list[tuple[Drawn, shapely.Polygon]], talk: Interview) -> str | None:
    if not [one for one, _ in inside if not one.hole]:
        return None
    options = {"leave": "furniture and the like: leave them out", "holes": "parts without floor"}
    return talk.choose("inside", "Closed lines lie within the outline. What are they?", options)


def _holder(
    polygon: shapely.Polygon, among: Sequence[tuple[Drawn, shapely.Polygon]]
) -> shapely.Polygon | None:
    return next((p for _, p in among if p is not polygon and p.contains(polygon)), None)


def _polygon(one: Drawn, scale: float, talk: Interview) -> shapely.Polygon | None:
    ring = [(x * scale, y * scale) for x, y in one.ring]
    if not all(math.isfinite(c) for point in ring for c in point):
        talk.leave(one.place, one.name or "a closed line", "it runs out of all bounds")
        return None
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring.pop()
    if not 3 <= len(ring) <= CORNERS:
        talk.leave(one.place, f"{len(ring)} corners", f"an outline has 3 to {CORNERS} corners")
        return None
    polygon = shapely.Polygon(ring)
    if not polygon.is_valid or polygon.area <= 0:
        talk.leave(one.place, one.name or "a closed line", "it crosses itself or has no area")
        return None
    return polygon


def _corners(polygon: shapely.Polygon) -> Ring:
    return [(float(x), float(y)) for x, y in polygon.exterior.coords[:-1]]


def _names(drawn: Sequence[Drawn]) -> list[str]:
    """Return a name for each floor: the drawing's own where they differ, else numbered."""
    own = [(one.name or "").strip()[:64] for one in drawn]
    if all(own) and len(set(own)) == len(own):
        return own
    return ["floor"] if len(drawn) == 1 else [f"floor {i}" for i in range(1, len(drawn) + 1)]


def scale_of(unit: Unit, plan: Unit) -> float:
    """Return how many plan units one unit of the drawing is."""
    return float(METRES[unit] / METRES[plan])
