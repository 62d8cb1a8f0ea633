"""The plan of a house: its levels, the standard error of its surface, or its deflection."""

from collections.abc import Callable, Iterator
from functools import partial
from math import dist

from levelbook.book.model import Area
from levelbook.drawing import contours as lines
from levelbook.drawing import house, keys, legend, metrics, stations, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.contours import Contour, OnSheet
from levelbook.drawing.fields import footprint
from levelbook.drawing.frame import Frame, bounds, fit
from levelbook.drawing.labels import Label, Placed, place, text_label
from levelbook.drawing.layout import Block, Layout, arrange
from levelbook.drawing.naming import area_names, contour_labels
from levelbook.drawing.occupancy import FORBIDDING, Occupancy
from levelbook.drawing.records import (
    XY,
    Array,
    Circle,
    Drawing,
    Fill,
    Line,
    Path,
    Pen,
    Record,
    Text,
)
from levelbook.drawing.scene import Scene, resolve
from levelbook.drawing.source import Kind, Source, first_look
from levelbook.drawing.stations import LEADER
from levelbook.drawing.theme import Theme, theme_for
from levelbook.drawing.wording import count, number, plus_minus
from levelbook.floor.model import Profile

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
        self._claim()
        badges = tuple(self._badges())
        levels = stations.label_urgent(self.scene, self.pins, self.room)
        ends = tuple(self._section_ends())
        levels |= stations.label_others(self.scene, self.pins, self.room, beside=beside)
        names = tuple(area_names(self.scene, self.frame, self.room))
        figures = tuple(contour_labels(self.scene, self.contours, self.room))
        marks = tuple(self._mark_labels())
        groups = [
            stations.station_group(self.scene, pin, levels.get(pin.spot.station.id))
            for pin in self.pins
        ]
        items: list[Record] = [*house.ground(self.scene.source.book, self.frame)]
        items += self._floors()
        items += self._contour_lines()
        items += self.walls
        items += self._lines()
        items += house.marks(self.scene.source.book, self.frame, self.scene.theme)
        items += groups
        for placed in (*badges, *ends, *marks):
            items += placed.records()
        items += [*names, *figures, *self.furniture]
        left_out = tuple(
            pin.spot.station.id
            for pin in self.pins
            if pin.text is not None and pin.spot.station.id not in levels
        )
        title = f"{TITLES[self.scene.kind]}, {self.scene.source.book.property.label}"
        return Drawing(
            self.layout.width,
            self.layout.height,
            tuple(items),
            metrics.clean(title),
            describe(self.scene),
            left_out,
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
        for chord in self._chords():
            self.room.take_disc(self.frame.point(chord.at), 1.1)
            self.room.weigh((self.frame.points(chord.line),), 3)
        self.room.weigh(tuple(c.run for c in self.contours), 1)
        for section in self.scene.source.book.sections:
            self.room.weigh((self.frame.points(section.line),), 2)
        inner = tuple(self.frame.points(wall) for wall in self.scene.source.book.walls)
        self.room.weigh(inner, 3)
        self.room.weigh(self.outlines, FORBIDDING)
        self.room.divide({area.id: self._rings(area) for area in self.scene.source.book.areas})

    def _rings(self, area: Area) -> tuple[Array, ...]:
        return tuple(self.frame.points(ring) for ring in (area.outline, *area.holes))

    def _badges(self) -> Iterator[Placed]:
        """Yield the numbers of distress, or of the places to read next."""
        scene, theme = self.scene, self.scene.theme
        size = theme.small * 0.9
        if scene.kind == "error":
            places = [p.at for shape in scene.shapes for p in shape.coverage.next]
            for k, at in enumerate(places, 1):
                yield from self._badge(self.frame.point(at), str(k), size, distress=False)
            return
        for k, item in enumerate(scene.source.book.distress, 1):
            where = house.distress_at(item, self.frame)
            if where is not None:
                yield from self._badge(where, str(k), size, distress=True)

    def _badge(self, at: XY, text: str, size: float, *, distress: bool) -> Iterator[Placed]:
        draw = symbols.diamond if distress else symbols.next_place
        side = size * (2.1 + 0.7 * (len(text) - 1)) if distress else 2 * (0.62 * size + 1.5)
        label = Label(
            at, side, side, lambda c: draw(c, text, size), centred=True, reach=12.0, pad=0.2
        )
        placed = place(label, self.room, LEADER)
        if placed is not None:
            yield placed

    def _section_ends(self) -> Iterator[Placed]:
        """Yield the ids at the first ends of the sections, and the figure of the worst chord."""
        scene, theme = self.scene, self.scene.theme
        if scene.kind == "deflection":
            for chord in self._chords():
                said = number(chord.deflection, scene.decimals, plus=True)
                said += f" {plus_minus(chord.sd, scene.decimals)}"
                text = Text((0, 0), said, theme.strong, look.INK, 600, role="worst")
                yield from self._named(text, self.frame.point(chord.at), 1.2, 20.0)
        if scene.kind == "error":
            return
        for section in scene.source.book.sections:
            said = metrics.shorten(metrics.clean(section.id), theme.text, 24.0, 600)
            text = Text((0, 0), said, theme.text, look.INK, 600, role="section-id")
            at = self.frame.point(section.line[0])
            near = [pin.clear for pin in self.pins if dist(pin.at, at) < 1.5]
            yield from self._named(text, at, max([0.8, *near]) + 0.3, 25.0)

    def _named(self, text: Text, at: XY, clear: float, reach: float) -> Iterator[Placed]:
        placed = place(text_label(text, at, clear=clear, reach=reach), self.room, LEADER)
        if placed is not None:
            yield placed

    def _mark_labels(self) -> Iterator[Placed]:
        """Yield the words of marks: their label, or their kind where no symbol says it."""
        theme = self.scene.theme
        for mark in self.scene.source.book.marks:
            said = mark.label or ("" if mark.kind in symbols.MARKS else mark.kind)
            full = metrics.clean(said.replace("-", " ") if not mark.label else said)
            known = symbols.MARKS[mark.kind][0] if mark.kind in symbols.MARKS else ""
            if full and full.casefold() != known:
                cut = metrics.shorten(full, theme.small, 17 * theme.small)
                more = full if cut != full else None
                text = Text((0, 0), cut, theme.small, look.SOFT, role="mark-label", full=more)
                yield from self._named(text, self.frame.point(mark.at), theme.symbol * 1.1, 12.0)

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
            for item in book.distress:
                run = house.distress_line(item, self.frame)
                if run is not None:
                    yield run
        for chord in self._chords():
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

    def _chords(self) -> tuple[Profile, ...]:
        """Return the lines that bend most, where the drawing is about them."""
        found = (shape.deflection for shape in self.scene.shapes)
        return tuple(c for c in found if c is not None and self.scene.kind == "deflection")


def describe(scene: Scene) -> str:
    """Return a drawing in words, for people who do not see it."""
    book, units = scene.source.book, scene.source.book.units
    read = sum(spot.level is not None for spot in scene.spots)
    areas, stationed = count(len(book.areas), "area", "areas"), count(read, "station", "stations")
    out = [f"Plan of {areas} with {stationed}."]
    for shape in scene.shapes:
        span = shape.range
        said = f"{number(span.value, scene.decimals)} {plus_minus(span.sd, scene.decimals)}"
        out.append(
            f"{metrics.clean(shape.area)}: {said} {units.level} from the lowest station "
            f"({span.low}) to the highest ({span.high})."
        )
    return " ".join(out)
