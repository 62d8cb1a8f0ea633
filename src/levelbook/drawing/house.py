"""The house itself on the sheet: floors, walls, openings, marks, sections and distress."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LinearRing, LineString

from levelbook.book.model import Area, Book, Distress
from levelbook.drawing import symbols
from levelbook.drawing import theme as look
from levelbook.drawing.frame import Frame
from levelbook.drawing.records import XY, Array, Fill, Group, Line, Path, Pen, Polygon, Record
from levelbook.drawing.theme import Theme

_CRACKS = {"crack", "separation"}


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """What stands of an area's outline once its vehicle door is left open, and the door."""

    runs: tuple[Array, ...]
    door: tuple[Record, ...]


def ground(book: Book, frame: Frame) -> Iterator[Polygon]:
    """Yield the plain floor of every area, under whatever is drawn over it."""
    for area in book.areas:
        rings = tuple(frame.points(ring) for ring in (area.outline, *area.holes))
        yield Polygon(rings, Fill(look.GROUND), role="ground")


def outline(area: Area, frame: Frame, theme: Theme) -> Walls:
    """Return an area's walls on the sheet, open at the vehicle door."""
    rings = [LinearRing(frame.points(ring)) for ring in (area.outline, *area.holes)]
    if area.vehicle_door is None:
        closed = tuple(np.asarray(ring.coords) for ring in rings)
        return Walls(closed, ())
    a, b = (_on(rings[0], frame.point(end)) for end in area.vehicle_door)
    opening = LineString([a, b]).buffer(0.4 * theme.outline, cap_style="flat")
    parts = shapely.get_parts(shapely.line_merge(rings[0].difference(opening)))
    rest = [p for p in parts if p.geom_type == "LineString" and p.length] + rings[1:]
    return Walls(tuple(np.asarray(part.coords) for part in rest), _opening(a, b, theme))


def _on(ring: LinearRing, at: XY) -> XY:
    """Return the point of a ring nearest to a place."""
    point = ring.interpolate(ring.project(shapely.Point(at)))
    return float(point.x), float(point.y)


def _opening(a: XY, b: XY, theme: Theme) -> tuple[Record, ...]:
    """Return a vehicle door: a dashed leaf between two jambs."""
    along = np.subtract(b, a)
    across = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-9)
    jamb = Pen(look.INK, 0.4)
    ends = [
        Line(tuple(np.asarray(p) - 1.1 * across), tuple(np.asarray(p) + 1.1 * across), jamb, "door")
        for p in (a, b)
    ]
    leaf = Pen(look.INK, 0.18, (1.2, 0.8))
    double = [
        Line(tuple(np.asarray(a) + s * across), tuple(np.asarray(b) + s * across), leaf, "door")
        for s in (-0.35, 0.35)
    ]
    return (*double, *ends)


def walls(book: Book, frame: Frame, theme: Theme) -> tuple[tuple[Record, ...], tuple[Array, ...]]:
    """Return the records of all walls, and the runs of the outlines for labels to avoid."""
    inner = tuple(frame.points(wall) for wall in book.walls)
    sides = [outline(area, frame, theme) for area in book.areas]
    runs = tuple(run for side in sides for run in side.runs)
    doors = [frame.points(area.vehicle_door) for area in book.areas if area.vehicle_door]
    out: list[Record] = []
    if inner:
        out.append(Path(inner, Pen(look.SOFT, theme.wall, cap="round"), role="wall"))
    out.append(Path(runs, Pen(look.INK, theme.outline, cap="round"), role="outline"))
    out.extend(record for side in sides for record in side.door)
    return tuple(out), (*runs, *doors)


def marks(book: Book, frame: Frame, theme: Theme) -> Iterator[Group]:
    """Yield the symbols of the marks."""
    for item in book.marks:
        shapes = symbols.mark(item.kind, frame.point(item.at), theme.symbol * 0.85)
        title = item.kind.replace("-", " ") + (f": {item.label}" if item.label else "")
        yield Group(shapes, "mark", title=title)


def distress_line(item: Distress, frame: Frame) -> Path | None:
    """Return the line of a sign of distress: a zigzag for a crack, else a plain stroke."""
    if item.line is None or len(item.line) < 2:
        return None
    run = frame.points(item.line)
    if item.kind in _CRACKS:
        run = symbols.zigzag(run)
    return Path((run,), Pen(look.ALARM, 0.3, cap="round"), role="distress")


def distress_at(item: Distress, frame: Frame) -> XY | None:
    """Return where the number of a sign of distress belongs."""
    if item.at is not None:
        return frame.point(item.at)
    if not item.line:
        return None
    if len(item.line) == 1:
        return frame.point(item.line[0])
    middle = LineString(frame.points(item.line)).interpolate(0.5, normalized=True)
    return float(middle.x), float(middle.y)


def hatch(outline: shapely.Polygon, pitch: float = 2.2) -> Path:
    """Return fine slanted lines over a floor whose levels hang on a zero of their own."""
    x0, y0, x1, y1 = outline.bounds
    tall = y1 - y0
    starts = np.arange(x0 - tall, x1, pitch)
    strokes = shapely.linestrings(
        np.stack(
            [
                np.column_stack([starts, np.full_like(starts, y1)]),
                np.column_stack([starts + tall, np.full_like(starts, y0)]),
            ],
            axis=1,
        )
    )
    cut = shapely.get_parts(shapely.intersection(strokes, outline))
    # A stroke beside the floor, as past the corner of one that is no upright oblong, is empty.
    runs = tuple(np.asarray(s.coords) for s in cut if s.geom_type == "LineString" and s.length)
    return Path(runs, Pen(look.PAPER, 0.22, opacity=0.75), role="own-zero-hatch")
