"""A profile: the floor along a line, with its 95 % band, its chord and its deflection."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, hypot

import numpy as np

from levelbook.book.model import Units
from levelbook.book.units import convert
from levelbook.drawing import metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.labels import place, text_label
from levelbook.drawing.occupancy import Box, Occupancy
from levelbook.drawing.records import Array, Drawing, Fill, Line, Path, Pen, Polygon, Record, Text
from levelbook.drawing.stations import LEADER
from levelbook.drawing.theme import Theme, theme_for
from levelbook.drawing.wording import (
    Z95,
    decimals_for,
    figure,
    nice_step,
    number,
    ratio_words,
)
from levelbook.floor.model import Profile

SHAPES = {
    "hog": "hog, the middle is high",
    "sag": "sag, the middle is low",
    "straight": "no bend that the readings can tell",
}
_DECIMALS = {"in": 2, "mm": 1}
_BAND = Fill("#c9d8e4", 0.75)
_LEAST_SPAN = {"in": 0.5, "mm": 12.0}


@dataclass(frozen=True, slots=True)
class _Axes:
    """The room of the plot on the sheet, and what it shows."""

    box: Box
    length: float
    low: float
    high: float

    def x(self, distance: float) -> float:
        """Return where a distance along the line lies on the sheet."""
        left, _, right, _ = self.box
        return left + (right - left) * distance / self.length

    def y(self, level: float) -> float:
        """Return where a level lies on the sheet."""
        _, top, _, bottom = self.box
        return bottom - (bottom - top) * (level - self.low) / (self.high - self.low)

    def points(self, distance: Array, level: Array) -> Array:
        """Return distances and levels (n,) as points (n, 2) on the sheet."""
        (x0, y0), (x1, y1) = (self.x(0.0), self.y(0.0)), (self.x(1.0), self.y(1.0))
        return np.column_stack([x0 + (x1 - x0) * distance, y0 + (y1 - y0) * level])


def profile(
    line: Profile,
    units: Units,
    *,
    name: str = "",
    width_mm: float = 180.0,
    height_mm: float = 62.0,
    theme: Theme | None = None,
) -> Drawing:
    """Draw the floor along a line, from its first end at the left to its second.

    Parameters
    ----------
    line
        The profile; its chord joins the two ends of the fitted surface.
    units
        The document's units.
    name
        What the line is called; its source by default.
    width_mm, height_mm
        The sheet.
    theme
        Sizes; by default those for print, or for a phone where the sheet is narrow.
    """
    style = theme or theme_for(width_mm)
    words = metrics.clean(name or line.source)
    head = [*_head(line, units, words, width_mm, style)]
    axes = _axes(line, units, width_mm, height_mm, style, 1.0 + len(head) * 1.3 * style.text)
    sheet = Occupancy(width_mm, height_mm)
    scale, foot = _scales(axes, units, style), _foot(axes, units, width_mm, height_mm, style)
    for text in (*head, *(item for item in (*scale, *foot) if isinstance(item, Text))):
        sheet.take_turned(text.corners())
    curve = axes.points(line.distance, line.level)
    sheet.weigh((curve,), 3)
    items = (*head, *scale, *_curve(line, axes, curve), *foot)
    title = f"Profile, {words}"
    arrow = (*_deflection(line, axes, sheet, _DECIMALS[units.level], style),)
    return Drawing(width_mm, height_mm, (*items, *arrow), title, describe(line, units))


def _told(line: Profile, units: Units) -> str:
    """Return the figures of a profile in one line."""
    length, decimals = convert(line.length, units.plan, units.level), _DECIMALS[units.level]
    if line.deflection == 0.0:
        return f"{line.length:.1f} {units.plan} long, no deflection"
    said = figure(line.deflection, line.sd, decimals, plus=True)
    ratio = ratio_words(length, line.deflection, line.sd)
    return (
        f"{line.length:.1f} {units.plan} long, deflection {said} {units.level} "
        f"(95\u00a0%), {ratio}; {SHAPES[line.shape]}"
    )


def describe(line: Profile, units: Units) -> str:
    """Return a profile in words, for people who do not see it."""
    return f"The floor along a line {_told(line, units)}."


def _head(line: Profile, units: Units, name: str, width: float, theme: Theme) -> Iterator[Text]:
    """Yield the name and the figures, in as many lines as they need."""
    room = width - 2 * theme.margin
    title = metrics.shorten(name, theme.text, room, 600)
    rows = [(title, 600)]
    rows += [(row, 400) for row in metrics.wrap(_told(line, units), theme.text, room)]
    for k, (row, weight) in enumerate(rows):
        at = (theme.margin, theme.margin + 0.8 * theme.text + 1.3 * k * theme.text)
        yield Text(at, row, theme.text, look.INK, weight, role="heading")


def _axes(
    line: Profile, units: Units, width: float, height: float, theme: Theme, head: float
) -> _Axes:
    """Return the plot: its room, and levels that leave air round the band."""
    low = float((line.level - Z95 * line.level_sd).min())
    high = float((line.level + Z95 * line.level_sd).max())
    lack = max(0.0, _LEAST_SPAN[units.level] - (high - low)) / 2 + 0.08 * (high - low)
    low, high = low - lack, high + lack
    left = theme.margin + metrics.width("−00.0 in", theme.small) + 2.0
    box = (
        left,
        theme.margin + head + 1.5,
        width - theme.margin - 4.0,
        height - theme.margin - (3.2 if width >= 130 else 4.5) * theme.small - 1.0,
    )
    return _Axes(box, float(line.distance[-1]), low, high)


def _scales(axes: _Axes, units: Units, theme: Theme) -> tuple[Record, ...]:
    """Return grid lines and figures of both scales."""
    left, top, right, bottom = axes.box
    hair = Pen("#c3ccd3", 0.12)
    out: list[Record] = []
    step = nice_step((axes.high - axes.low) / max(2.0, (bottom - top) / 4.5))
    last = floor(axes.high / step + 1e-9)
    for k in range(ceil(axes.low / step - 1e-9), last + 1):
        y = axes.y(k * step)
        out.append(Line((left, y), (right, y), hair, "grid"))
        said = number(k * step, decimals_for(step)) + (f" {units.level}" if k == last else "")
        at = (left - 1.2, y + 0.345 * theme.small)
        out.append(Text(at, said, theme.small, look.SOFT, anchor="end", role="scale"))
    step = nice_step(axes.length / max(2.0, (right - left) / 17.0))
    last = floor(axes.length / step + 1e-9)
    for k in range(last + 1):
        x = axes.x(k * step)
        out.append(Line((x, bottom), (x, bottom + 1.0), Pen(look.SOFT, 0.15), "grid"))
        said = f"{k * step:g}" + (f" {units.plan}" if k == last else "")
        at = (x, bottom + 1.6 + 0.8 * theme.small)
        out.append(Text(at, said, theme.small, look.SOFT, anchor="middle", role="scale"))
    out.append(Line((left, bottom), (right, bottom), Pen(look.SOFT, 0.2), "grid"))
    return tuple(out)


def _foot(
    axes: _Axes, units: Units, width: float, height: float, theme: Theme
) -> tuple[Record, ...]:
    """Return the words below: the band, the chord, and how far heights are stretched."""
    left, top, right, bottom = axes.box
    across = (right - left) / convert(axes.length, units.plan, units.level)
    times = (bottom - top) / (axes.high - axes.low) / across
    rounded = nice_step(times * 0.75) if times < 10 else round(times, -1)
    said = (
        f"shaded: 95\u00a0% interval of the level; dashed: chord; "
        f"heights drawn about {rounded:.0f} times larger than lengths"
    )
    rows = metrics.wrap(said, theme.small, width - 2 * theme.margin)
    last = height - theme.margin - 0.25 * theme.small
    return tuple(
        Text(
            (theme.margin, last - 1.25 * k * theme.small), row, theme.small, look.SOFT, role="note"
        )
        for k, row in enumerate(reversed(rows))
    )


def _curve(line: Profile, axes: _Axes, curve: Array) -> Iterator[Record]:
    """Yield the band, the chord and the floor."""
    upper = axes.points(line.distance, line.level + Z95 * line.level_sd)
    lower = axes.points(line.distance, line.level - Z95 * line.level_sd)
    yield Polygon((np.vstack([upper, lower[::-1]]),), _BAND, role="interval")
    ends = (curve[0], curve[-1])
    chord = Pen(look.SOFT, 0.2, (1.6, 0.9))
    a, b = ((float(x), float(y)) for x, y in ends)
    yield Line(a, b, chord, role="chord")
    yield Path((curve,), Pen(look.INK, 0.45, cap="round"), role="floor")


def _deflection(
    line: Profile, axes: _Axes, sheet: Occupancy, decimals: int, theme: Theme
) -> Iterator[Record]:
    """Yield the arrow from the chord to the floor where they lie farthest apart."""
    if line.deflection == 0.0:
        return
    (x0, y0), _ = line.line
    at = hypot(line.at[0] - x0, line.at[1] - y0)
    level = float(np.interp(at, line.distance, line.level))
    offset = float(np.interp(at, line.distance, line.offset))
    x, tip, root = axes.x(at), axes.y(level), axes.y(level - offset)
    tone = look.HIGH if line.deflection > 0 else look.LOW
    sheet.weigh((np.array([[x, root], [x, tip]]),), 9)
    yield from symbols.arrow((x, root), (x, tip), Pen(tone, 0.3), 1.8)
    said = figure(line.deflection, line.sd, decimals, plus=True)
    text = Text((0.0, 0.0), said, theme.strong, tone, 600, role="deflection")
    label = text_label(text, (x, tip), clear=1.0, reach=20.0)
    placed = place(label, sheet, LEADER)
    if placed is not None:
        yield from placed.records()
