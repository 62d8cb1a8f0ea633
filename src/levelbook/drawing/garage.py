"""A garage floor: which way water runs, where it would stand, and the way from the heater.

Low places are hatched and numbered, so that nothing rests on colour alone; the vehicle door
is an opening in the wall.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from levelbook.book.model import Area, Book
from levelbook.drawing import house, keys, metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.contours import outside
from levelbook.drawing.frame import Frame, fit
from levelbook.drawing.labels import text_label
from levelbook.drawing.layout import Block, arrange, lead, stack
from levelbook.drawing.occupancy import FORBIDDING, Box, Occupancy
from levelbook.drawing.records import (
    XY,
    Array,
    Circle,
    Drawing,
    Fill,
    Line,
    Path,
    Pen,
    Polygon,
    Record,
    Text,
)
from levelbook.drawing.signs import Sign, set_down
from levelbook.drawing.theme import Theme, theme_for
from levelbook.drawing.wording import MINUS, NBSP
from levelbook.findings.display import length_text
from levelbook.floor.garage import Garage, Trail
from levelbook.floor.low_spots import LowSpot

_FLOW = Pen(look.SOFT, 0.18)
_TRAIL = Pen(look.DOUBT, 0.5, (1.6, 0.8), cap="round")
_EDGE = Pen(look.LOW, 0.25)
_STROKES = Pen(look.LOW, 0.14)
_WATER = Fill("#c6dbea")
_WAYS = {
    "drains": "the floor falls to the vehicle door",
    "flat": "the floor is too close to level to tell where water would run",
    "negative slope": "the floor slopes away from the vehicle door",
    "ponds": "water would stand on the floor",
    "too close to call": "where water would run cannot be told",
}


def garage_plan(
    book: Book,
    garage: Garage,
    *,
    width_mm: float = 180.0,
    height_mm: float | None = None,
    theme: Theme | None = None,
) -> Drawing:
    """Draw the floor of one garage: arrows downhill, low places, and ways that water takes.

    Parameters
    ----------
    book, garage
        The visit, and what was found out about the garage.
    width_mm, height_mm
        The sheet; without a height it is made as tall as the plan and its legend need.
    theme
        Sizes; by default those for print, or for a phone where the sheet is narrow.
    """
    return _Sheet(book, garage, theme or theme_for(width_mm)).drawn(width_mm, height_mm)


def describe(book: Book, garage: Garage) -> str:
    """Return the drawing in words, for people who do not see it."""
    fall = _figure(book, garage.fall.value, garage.fall.sd)
    said = [
        f"Plan of {metrics.clean(garage.area)}: {_WAYS[garage.verdict]}. "
        f"Fall to the vehicle door {fall} over {garage.fall.depth:.0f} {book.units.plan}."
    ]
    for n, spot in enumerate(garage.low_spots, 1):
        said.append(f"Low place {n}: water {_depth(book, spot)} deep.")
    for trail in garage.trails:
        end = trail.end if trail.sure else "too close to call"
        said.append(f"The way of water from {_from(trail)} ends at: {end}.")
    return " ".join(said)


def _figure(book: Book, value: float, sd: float) -> str:
    """Return a height with half of its 95 % interval and its unit."""
    shown, half = length_text(value, sd, book.units.level)
    return f"{shown.replace('-', MINUS)} ±{NBSP}{half} {book.units.level}"


def _depth(book: Book, spot: LowSpot) -> str:
    """Return the depth of a low place with its 95 % interval."""
    return _figure(book, spot.depth, spot.depth_sd)


def _from(trail: Trail) -> str:
    return "the water heater" if trail.label == "water-heater" else f"the place {trail.label}"


@dataclass(frozen=True)
class _Sheet:
    """One drawing of a garage."""

    book: Book
    garage: Garage
    theme: Theme

    @property
    def area(self) -> Area:
        """The garage as it was drawn in the book."""
        return next(a for a in self.book.areas if a.id == self.garage.area)

    @property
    def _known(self) -> list[Trail]:
        """Ways of water that the readings tell; the others are said in words alone."""
        return [trail for trail in self.garage.trails if trail.sure]

    @property
    def stations(self) -> Array:
        """Places (n, 2) that were read on this floor."""
        places = [s.at for s in self.book.stations if s.area == self.garage.area]
        return np.array(places, dtype=float).reshape(-1, 2)

    def drawn(self, width: float, height: float | None) -> Drawing:
        """Return the drawing."""
        x, y = np.array([*self.area.outline, *self.stations]).T
        extent: Box = (float(x.min()), float(y.min()), float(x.max()), float(y.max()))
        layout = arrange(self._legend, extent, width, height, self.theme)
        frame, room = fit(extent, layout.room), Occupancy(layout.width, layout.height)
        outline = house.outline(self.area, frame, self.theme)
        room.take(layout.legend)
        room.weigh((*outline.runs, frame.points(self.area.vehicle_door or ())), FORBIDDING)
        for at in frame.points(self.stations):
            room.take_disc((float(at[0]), float(at[1])), self.theme.dot * 1.4)
        for mark in self._marks():
            room.take_disc(frame.point(mark), self.theme.symbol)
        for trail in self._known:
            room.weigh((frame.points(trail.path),), 5)
        placed, without = set_down(self._signs(frame), room)
        items = [*self._floor(frame, room), *outline.door]
        items.append(
            Path(outline.runs, Pen(look.INK, self.theme.outline, cap="round"), role="outline")
        )
        items += self._over(frame)
        items += [each.leader for each in placed if each.leader is not None]
        items += [record for each in placed for record in each.drawn()]
        items += [r for block, corner in layout.blocks for r in block.draw(corner, frame.scale)]
        title = metrics.clean(f"Where water runs, {self.garage.area}")
        told = describe(self.book, self.garage)
        return Drawing(layout.width, layout.height, tuple(items), title, told, (), tuple(without))

    def _floor(self, frame: Frame, room: Occupancy) -> Iterator[Record]:
        """Yield the floor, what stands on it, and the arrows where there is no text."""
        rings = tuple(frame.points(ring) for ring in (self.area.outline, *self.area.holes))
        yield Polygon(rings, Fill(look.GROUND), role="ground")
        for spot in self.garage.low_spots:
            wet = tuple(frame.points(ring) for ring in spot.rings)
            if wet:
                yield Polygon(wet, _WATER, _EDGE, role="low-spot")
                yield Path(_strokes(wet, room), _STROKES, role="low-spot-hatch")
        reach = self._spacing(frame) * 0.36
        floor = frame.polygon(shapely.Polygon(self.area.outline, self.area.holes)).buffer(-0.8)
        for x, y, right, up in self.garage.arrows.tolist():
            if not (right or up):
                yield from self._unsure(frame.point((x, y)), floor, room)
                continue
            (a, b), far = frame.point((x, y)), reach * np.array([right, -up])
            tail, head = (a - far[0], b - far[1]), (a + far[0], b + far[1])
            shaft = shapely.LineString([tail, head]).intersection(floor)
            if shaft.geom_type != "LineString" or shaft.length < reach:
                continue
            tail, head = shaft.coords[0], shaft.coords[-1]
            if not room.under_text(np.array([tail, (a, b), head])):
                yield from symbols.arrow(tail, head, _FLOW, 1.5)

    def _unsure(self, at: XY, floor: shapely.Geometry, room: Occupancy) -> Iterator[Record]:
        """Yield the ring that stands where the way water would run is not sure."""
        if floor.contains(shapely.Point(at)) and not room.under_text(np.array([at])):
            yield from _ring(at)

    def _spacing(self, frame: Frame) -> float:
        """Return how far apart the arrows stand on the sheet."""
        at = self.garage.arrows[:, :2]
        if len(at) < 2:
            return 8.0
        gaps = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
        return frame.scale * float(np.where(gaps > 0, gaps, np.inf).min())

    def _over(self, frame: Frame) -> Iterator[Record]:
        """Yield stations, marks and the ways of water, over the floor."""
        for at in frame.points(self.stations):
            yield from symbols.station((float(at[0]), float(at[1])), self.theme.dot)
        for trail in self._known:
            yield from _way(frame.points(trail.path))
        for spot in self.garage.low_spots:
            yield Circle(frame.point(spot.at), 0.7, Fill(look.LOW), role="deepest")
        kinds = ("water-heater", "drain", "column", "door")
        chosen = [m for m in self.book.marks if m.kind in kinds and self._within(m.at)]
        book = self.book.model_copy(update={"marks": tuple(chosen)})
        yield from house.marks(book, frame, self.theme)
        for trail in self.garage.trails:
            if trail.label != "water-heater":
                at = frame.point(trail.start)
                yield Circle(at, 0.8, Fill(look.PAPER), Pen(look.DOUBT, 0.4), role="start")

    def _marks(self) -> list[tuple[float, float]]:
        return [m.at for m in self.book.marks if self._within(m.at)]

    def _within(self, at: tuple[float, float]) -> bool:
        return bool(shapely.Polygon(self.area.outline).dwithin(shapely.Point(at), 1e-6))

    def _signs(self, frame: Frame) -> Iterator[Sign]:
        """Yield the words on the drawing: the door, and each low place with its depth."""
        size = self.theme.text
        for n, spot in enumerate(self.garage.low_spots, 1):
            said = f"{n}: {_depth(self.book, spot)} deep"
            yield self._named(said, frame.point(spot.at), "low-spot-depth", self.theme.level)
        if self.area.vehicle_door:
            ends = frame.points(self.area.vehicle_door)
            middle = ends.mean(axis=0)
            at = (float(middle[0]), float(middle[1]))
            yield self._named("vehicle door", at, "door-name", size)

    def _named(self, said: str, at: XY, role: str, size: float) -> Sign:
        text = Text((0.0, 0.0), said, size, look.INK, 600, role=role)
        tries = (text_label(text, at, clear=1.2, reach=reach) for reach in (12.0, 60.0))
        return Sign(said, tuple(tries))

    def _legend(self, width: float, theme: Theme) -> list[Block]:
        """Return the legend's blocks: the fall first, then what each sign means."""
        bar = keys.scale_bar(self.book.units, self.book.property.north, width, theme)
        known = np.abs(self.garage.arrows[:, 2:]).sum(axis=1) > 0
        rows: list[tuple[keys.SymbolAt, str, float]] = []
        if known.any():
            rows.append((_flow_sample, "arrow: the way water would run", 0.0))
        if not known.all():
            rows.append((_ring, "ring: too level there to say which way", 0.0))
        if self.garage.low_spots:
            words = "low place: water would stand here, at most as deep as named (± 95\u00a0%)"
            rows.append((_low_sample, words, 0.0))
        for trail in self._known:
            rows.append((keys.stroke(_TRAIL), f"way of water from {_from(trail)}", 0.0))
        rows.append((keys.vehicle_door, "vehicle door", 0.0))
        rows.append((lambda at: symbols.station(at, theme.dot), "place that was read", 0.0))
        return [
            bar,
            self._head(width, theme),
            *(keys.row(s, t, width, theme, h) for s, t, h in rows),
        ]

    def _head(self, width: float, theme: Theme) -> Block:
        """Return the fall to the door in words."""
        fall = self.garage.fall
        verb = "falls" if fall.value >= 0 else "rises"
        said = (
            f"From the wall facing the vehicle door to the door the floor {verb} "
            f"{_figure(self.book, abs(fall.value), fall.sd)} in {fall.depth:.0f} "
            f"{self.book.units.plan} (95{NBSP}%)"
        )
        lines = metrics.wrap(said, theme.text, width, 600)
        return Block(len(lines) * lead(theme), lambda at, _: stack(lines, at, theme, weight=600))


def _strokes(rings: tuple[Array, ...], room: Occupancy, pitch: float = 1.4) -> tuple[Array, ...]:
    """Return level strokes over the room within rings, making way for text."""
    inside = shapely.Polygon()
    for ring in rings:
        inside = inside.symmetric_difference(shapely.Polygon(ring).buffer(0))
    if inside.is_empty:
        return ()
    x0, y0, x1, y1 = inside.bounds
    rows = np.arange(y0 + pitch / 2, y1, pitch)
    lines = [shapely.LineString([(x0 - 1, y), (x1 + 1, y)]) for y in rows]
    parts = shapely.get_parts(shapely.intersection(lines, inside)) if lines else []
    runs = (np.asarray(p.coords) for p in parts if p.geom_type == "LineString" and p.length)
    return tuple(part for run in runs for part in outside(run, room.text, room.cell))


def _way(run: Array) -> Iterator[Record]:
    """Yield the way of water: a dashed line, smoothed over its steps, with a head at its end."""
    line = shapely.simplify(shapely.LineString(run), 0.8)
    places = np.asarray(line.coords)
    if line.length < 1.0:
        return
    yield Path((places,), _TRAIL, role="trail")
    end = line.interpolate(-min(3.0, line.length))
    tip = (float(places[-1, 0]), float(places[-1, 1]))
    yield from symbols.arrow((float(end.x), float(end.y)), tip, Pen(look.DOUBT, 0.5), 2.4)


def _ring(at: XY) -> tuple[Record, ...]:
    return (Circle(at, 0.55, None, _FLOW, role="level-here"),)


def _flow_sample(at: XY) -> tuple[Record, ...]:
    return symbols.arrow((at[0] - 2.2, at[1]), (at[0] + 2.2, at[1]), _FLOW, 1.5)


def _low_sample(at: XY) -> tuple[Record, ...]:
    x, y = at
    box = np.array([[x - 2.2, y - 1.2], [x + 2.2, y - 1.2], [x + 2.2, y + 1.2], [x - 2.2, y + 1.2]])
    lines = tuple(Line((x - 2.2, y + d), (x + 2.2, y + d), _STROKES, "legend") for d in (-0.4, 0.5))
    return (Polygon((box,), _WATER, _EDGE, role="legend"), *lines)
