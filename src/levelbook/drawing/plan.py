"""The plan of a house: its levels, the standard error of its surface, or its deflection."""

from collections.abc import Callable, Iterator, Mapping
from functools import partial

from levelbook.book.model import Area
from levelbook.drawing import contours as lines
from levelbook.drawing import grades, house, keys, legend, metrics, signs, stations
from levelbook.drawing import theme as look
from levelbook.drawing.contours import Contour, OnSheet
from levelbook.drawing.fields import footprint
from levelbook.drawing.frame import Frame, bounds, fit
from levelbook.drawing.labels import Placed
from levelbook.drawing.layout import Block, Layout, arrange
from levelbook.drawing.naming import area_names, contour_labels
from levelbook.drawing.occupancy import FORBIDDING, Occupancy
from levelbook.drawing.records import (
    Array,
    Circle,
    Drawing,
    Fill,
    Line,
    Path,
    Pen,
    Record,
)
from levelbook.drawing.scene import Scene, resolve
from levelbook.drawing.source import Kind, Source, first_look
from levelbook.drawing.theme import Theme, theme_for
from levelbook.drawing.wording import count, figure

TITLES = {
    "levels": "Floor levels",
    "error": "How sure the floor's shape is",
    "deflection": "Floor with its tilt taken away",
}


def plan(
    source: Source,
    *,
    kind: Kind = "levels",
    width_mm: float = 180.0,
    height_mm: float | None = None,
    theme: Theme | None = None,
    brief: bool = False,
) -> Drawing:
    """Draw one plan of a house.

    Parameters
    ----------
    source
        An assessment, or anything with ``book``, ``levels`` and ``floor``.
    kind
        ``levels``; ``error`` for the standard error of the fitted surface with the places
        where a reading helps most; ``deflection`` for the surface without its tilt, with the
        line that bends most.
    width_mm, height_mm
        The sheet; without a height it is made as tall as the plan and its legend need.
    theme
        Sizes; by default those for print, or for a phone where the sheet is narrow.
    brief
        A first look, beside a sheet that shows everything: no sections, of the marks the
        front door alone, and a short legend.

    Returns
    -------
    Drawing
        ``unnumbered`` names the stations that show as a dot alone (never on paper sizes
        that have room for them); the legend then says so.
    """
    shown = first_look(source) if brief else source
    scene = resolve(shown, kind, theme or theme_for(width_mm))
    key = partial(legend.blocks, scene, brief=brief)
    sheet = _Sheet(scene, width_mm, height_mm, key)
    if not sheet.crowded():
        drawn = sheet.drawing()
        if not drawn.unnumbered:
            return drawn
    beside = scene.theme.thin_out or sheet.crowded()
    return _Sheet(scene, width_mm, height_mm, partial(key, thinned=True)).drawing(beside=beside)


class _Sheet:
    """One drawing in the making: layout first, then labels, then records back to front."""

    def __init__(
        self,
        scene: Scene,
        width: float,
        height: float | None,
        key: Callable[[float, Theme], list[Block]],
    ) -> None:
        self.scene, book = scene, scene.source.book
        extent = bounds(book)
        self.layout: Layout = arrange(
            key,
            extent,
            width,
            height,
            scene.theme,
        )
        self.frame: Frame = fit(extent, self.layout.room)
        self.room = Occupancy(self.layout.width, self.layout.height)
        self.fields = [OnSheet(f, scene.bands[f.group], self.frame) for f in scene.fields]
        self.contours: list[Contour] = [c for f in self.fields for c in f.lines()]
        self.walls, self.outlines = house.walls(book, self.frame, scene.theme)
        self.pins = stations.pins(scene, self.frame)
        self.furniture = tuple(self._furniture())

    def crowded(self) -> bool:
        """Whether there are more levels than the floors have room for."""
        floors = [footprint(area).area for area in self.scene.source.book.areas]
        return stations.too_many(self.pins, sum(floors) * self.frame.scale**2)

    def drawing(self, *, beside: bool = False) -> Drawing:
        """Return the finished drawing; if ``beside``, with levels only right beside their dot."""
        scene, frame, room = self.scene, self.frame, self.room
        self._claim()
        badges = [*signs.distress_numbers(scene, frame), *signs.places_to_read(scene, frame)]
        first, without = signs.set_down(badges, room)
        levels = stations.label_urgent(scene, self.pins, room)
        near = [(pin.at, pin.clear) for pin in self.pins]
        names = [
            *signs.worst_figures(scene, frame),
            *signs.section_names(scene, frame, near),
            *grades.names(scene, frame),
        ]
        second, lost = signs.set_down(names, room)
        levels |= stations.label_others(scene, self.pins, room, beside=beside)
        areas = tuple(area_names(scene, frame, room))
        figures = tuple(contour_labels(scene, self.contours, room))
        third, forgone = signs.set_down(signs.mark_words(scene, frame), room)
        items = [*self._ground(), *self._stations(levels)]
        named = (*first, *second, *third)
        items += [placed.leader for placed in named if placed.leader is not None]
        items += [record for placed in named for record in placed.drawn()]
        items += [*areas, *figures, *self.furniture]
        return self._finished(tuple(items), levels, (*without, *lost, *forgone))

    def _ground(self) -> Iterator[Record]:
        """Yield all that lies under stations and text, back to front."""
        book = self.scene.source.book
        yield from house.ground(book, self.frame)
        yield from self._floors()
        yield from self._contour_lines()
        yield from self.walls
        yield from self._lines()
        yield from house.marks(book, self.frame, self.scene.theme)

    def _stations(self, levels: Mapping[str, Placed]) -> Iterator[Record]:
        for pin in self.pins:
            yield stations.station_group(self.scene, pin, levels.get(pin.spot.station.id))

    def _finished(
        self, items: tuple[Record, ...], levels: Mapping[str, Placed], without: tuple[str, ...]
    ) -> Drawing:
        told = [pin.spot.station.id for pin in self.pins if pin.text is not None]
        return Drawing(
            self.layout.width,
            self.layout.height,
            items,
            metrics.clean(f"{TITLES[self.scene.kind]}, {self.scene.source.book.property.label}"),
            describe(self.scene),
            tuple(station for station in told if station not in levels),
            without,
        )

    def _furniture(self) -> Iterator[Record]:
        for block, corner in self.layout.blocks:
            yield from block.draw(corner, self.frame.scale)

    def _claim(self) -> None:
        """Take the room of symbols and furniture, and weigh the lines that labels avoid."""
        self.room.take(self.layout.legend)
        stations.take_symbols(self.pins, self.room)
        for mark in self.scene.source.book.marks:
            self.room.take_disc(self.frame.point(mark.at), self.scene.theme.symbol * 1.1)
        for chord in signs.worst_lines(self.scene):
            self.room.take_disc(self.frame.point(chord.at), 1.1)
            self.room.weigh((self.frame.points(chord.line),), 3)
        self.room.weigh(tuple(c.run for c in self.contours), 1)
        for section in self.scene.source.book.sections:
            self.room.weigh((self.frame.points(section.line),), 2)
        for tail, head in grades.lines(self.scene, self.frame):
            self.room.take_line(tail, head)
        inner = tuple(self.frame.points(wall) for wall in self.scene.source.book.walls)
        self.room.weigh(inner, 3)
        self.room.weigh(self.outlines, FORBIDDING)
        self.room.divide({area.id: self._rings(area) for area in self.scene.source.book.areas})

    def _rings(self, area: Area) -> tuple[Array, ...]:
        return tuple(self.frame.points(ring) for ring in (area.outline, *area.holes))

    def _floors(self) -> Iterator[Record]:
        for item in self.fields:
            yield from item.fills()
            if self.scene.kind == "levels" and item.field.group != self.scene.main:
                yield house.hatch(item.footprint)

    def _contour_lines(self) -> Iterator[Path]:
        """Yield contours by pen, making way for text, ticks last."""
        theme = self.scene.theme
        runs: dict[Pen, list[Array]] = {}
        for contour in self.contours:
            width = theme.index if contour.index else theme.contour
            plain = Pen(look.INK, width, opacity=0.75)
            dashed = Pen(look.INK, width, (1.1, 0.7), opacity=0.75)
            for stretch, unsure in lines.pieces(contour.run, contour.unsure):
                pen = dashed if unsure and self.scene.kind != "error" else plain
                left = lines.outside(stretch, self.room.text, self.room.cell)
                runs.setdefault(pen, []).extend(left)
            if self.scene.kind != "error":
                fine = Pen(look.INK, theme.contour, opacity=0.75)
                runs.setdefault(fine, []).extend(
                    tick for tick in lines.ticks(contour) if not self.room.under_text(tick)
                )
        for pen, parts in runs.items():
            if parts:
                yield Path(tuple(parts), pen, role="contour")

    def _lines(self) -> Iterator[Record]:
        """Yield sections, the worst chord and the lines of distress."""
        scene, book = self.scene, self.scene.source.book
        if scene.kind != "error":
            yield from self._sections()
            yield from grades.arrows(scene, self.frame)
            for item in book.distress:
                run = house.distress_line(item, self.frame)
                if run is not None:
                    yield run
        for chord in signs.worst_lines(self.scene):
            a, b = (self.frame.point(end) for end in chord.line)
            yield Line(a, b, Pen(look.INK, 0.5), role="chord")
            for end in (a, b):
                yield Circle(end, 0.7, Fill(look.INK), role="chord")
            at = self.frame.point(chord.at)
            yield Circle(at, 0.9, Fill(look.PAPER), Pen(look.INK, 0.4), role="chord")

    def _sections(self) -> Iterator[Path]:
        """Yield the lines of the sections, making way for text."""
        for section in self.scene.source.book.sections:
            run = self.frame.points(section.line)
            parts = tuple(lines.outside(run, self.room.text, self.room.cell))
            if parts:
                yield Path(parts, keys.SECTION, role="section")


def describe(scene: Scene) -> str:
    """Return a drawing in words, for people who do not see it."""
    book, units = scene.source.book, scene.source.book.units
    read = sum(spot.level is not None for spot in scene.spots)
    areas, stationed = count(len(book.areas), "area", "areas"), count(read, "station", "stations")
    out = [f"Plan of {areas} with {stationed}."]
    for shape in scene.shapes:
        span = shape.range
        said = figure(span.value, span.sd, scene.decimals)
        out.append(
            f"{metrics.clean(shape.area)}: {said} {units.level} from the lowest station "
            f"({span.low}) to the highest ({span.high})."
        )
    return " ".join(out)
