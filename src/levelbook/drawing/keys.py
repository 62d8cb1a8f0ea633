"""The pieces of a legend: a symbol with its words, a ramp, the scale bar, the dial."""

from collections.abc import Callable, Iterator
from math import ceil, floor, log10

import numpy as np

from levelbook.book.model import Book, Units
from levelbook.drawing import metrics, symbols
from levelbook.drawing import theme as look
from levelbook.drawing.fields import Bands
from levelbook.drawing.layout import Block, lead, stack
from levelbook.drawing.records import XY, Array, Fill, Line, Path, Pen, Polygon, Record, Text
from levelbook.drawing.theme import Theme
from levelbook.drawing.wording import (
    Z95,
    compass,
    direction_sd,
    number,
    slope_words,
)
from levelbook.findings.display import direction_known
from levelbook.floor.model import Tilt

_CELL = 7.0
SECTION = Pen(look.INK, 0.25, (2.4, 0.7, 0.5, 0.7))
"""The line of a section."""

SymbolAt = Callable[[XY], tuple[Record, ...]]


def row(symbol: SymbolAt, text: str, width: float, theme: Theme, tall: float = 0.0) -> Block:
    """Return a symbol with its words; ``tall`` is the height that the symbol needs."""
    lines = metrics.wrap(text, theme.text, width - _CELL)
    room = max(len(lines) * lead(theme), tall)
    drop = (room - len(lines) * lead(theme)) / 2

    def draw(at: XY, _scale: float) -> tuple[Record, ...]:
        middle = at[1] + (room / 2 if tall else lead(theme) / 2)
        said = stack(lines, (at[0] + _CELL, at[1] + drop + 0.15 * theme.text), theme)
        return (*symbol((at[0] + _CELL / 2 - 0.8, middle)), *said)

    return Block(room, draw)


def ramp(bands: Bands, words: str, width: float, theme: Theme, *, plus: bool = False) -> Block:
    """Return the colours of the bands with the values at their edges."""
    lines = metrics.wrap(words, theme.text, width, 600)
    values = [number(edge, bands.decimals, plus=plus) for edge in bands.edges]
    widest = max(metrics.width(value, theme.small) for value in values)
    count = len(bands.colours)
    each = min(width - widest, 6.2 * count, 56.0) / count
    stride = max(1, ceil((widest + 1.0) / each))
    tall, top = 2.8, len(lines) * lead(theme) + 0.6

    def draw(at: XY, _scale: float) -> tuple[Record, ...]:
        x, y = at[0] + widest / 2, at[1] + top
        cells = [
            Polygon((_cell(x + k * each, y, each, tall),), Fill(tone), role="ramp")
            for k, tone in enumerate(bands.colours)
        ]
        frame = Polygon((_cell(x, y, count * each, tall),), None, Pen(look.SOFT, 0.14), role="ramp")
        under = y + tall + 0.9 * theme.small + 0.4
        figures = [
            Text((x + k * each, under), values[k], theme.small, look.INK, 400, "middle")
            for k in range(0, len(values), stride)
        ]
        return (*stack(lines, at, theme, weight=600), *cells, frame, *figures)

    return Block(top + tall + 1.2 * theme.small + 0.6, draw)


def _cell(x: float, y: float, wide: float, tall: float) -> Array:
    return np.array([[x, y], [x + wide, y], [x + wide, y + tall], [x, y + tall]])


def scale_bar(units: Units, north: float | None, width: float, theme: Theme) -> Block:
    """Return the scale bar, with the north arrow at its end where north is known."""
    compass_room = 9.0 if north is not None else 0.0
    tall = 11.0 if north is not None else 3.4 + lead(theme)

    def draw(at: XY, scale: float) -> tuple[Record, ...]:
        longest = min(width - compass_room - 5.0, 48.0) / scale
        power = 10.0 ** floor(log10(longest))
        step = max(m * power for m in (1, 2, 4, 5, 6, 8) if m * power <= longest * 1.0001) / 2
        out = [*_bar((at[0], at[1] + tall - 1.4), step, scale, f" {units.plan}", theme)]
        if north is not None:
            centre = (at[0] + width - 5.5, at[1] + tall / 2 + 0.8)
            out.extend(symbols.north(centre, 3.2, north, theme.small))
        return tuple(out)

    return Block(tall, draw)


def _bar(at: XY, step: float, scale: float, unit: str, theme: Theme) -> Iterator[Record]:
    """Yield a bar of two steps with its figures above; ``at`` is its lower left corner."""
    x, y = at
    for k, tone in enumerate((look.INK, look.PAPER)):
        a, b = x + k * step * scale, x + (k + 1) * step * scale
        box = np.array([[a, y - 1.2], [b, y - 1.2], [b, y], [a, y]])
        yield Polygon((box,), Fill(tone), Pen(look.INK, 0.15), role="scale")
    for k in range(3):
        figure = f"{k * step:g}"
        left = 0.0 if k == 0 else metrics.width(figure, theme.small) / 2
        place = (x + k * step * scale - left, y - 2.0)
        text = figure + (unit if k == 2 else "")
        yield Text(place, text, theme.small, look.INK, role="scale")


def dial(tilt: Tilt, book: Book, name: str | None, width: float, theme: Theme) -> Block:
    """Return the downhill arrow of an area, the sector that holds it, and its slope."""
    radius, spread = 4.6, Z95 * direction_sd(tilt)
    said = slope_words(tilt.slope, tilt.sd, book.units)
    aim = tilt.direction if direction_known(tilt.slope, tilt.sd) else None
    if aim is None:
        text = f"{name or 'Floor'}: no clear direction of fall ({said})"
    else:
        word = compass(aim, book.property.north)
        toward = f"to the {word}" if word else "as the arrow points"
        text = f"{name} falls {said} {toward}" if name else f"Falls {said} {toward}"
    lines = metrics.wrap(text, theme.text, width - 2 * radius - 3)
    tall = max(2 * radius, len(lines) * lead(theme))

    def draw(at: XY, _scale: float) -> tuple[Record, ...]:
        centre = (at[0] + radius, at[1] + tall / 2)
        top = at[1] + (tall - len(lines) * lead(theme)) / 2 + 0.15 * theme.text
        said_at = (at[0] + 2 * radius + 2.5, top)
        return (*symbols.dial(centre, radius, aim, spread), *stack(lines, said_at, theme))

    return Block(tall, draw)


def stroke(pen: Pen) -> SymbolAt:
    """Return the sample of a line."""
    return lambda at: (Line((at[0] - 2.4, at[1]), (at[0] + 2.4, at[1]), pen, role="legend"),)


def crack(at: XY) -> tuple[Record, ...]:
    """Return the sample of a crack."""
    run: Array = np.array([[at[0] - 2.4, at[1]], [at[0] + 2.4, at[1]]])
    return (Path((symbols.zigzag(run),), Pen(look.ALARM, 0.3, cap="round"), role="legend"),)


def low(at: XY) -> tuple[Record, ...]:
    """Return the sample of a contour that closes on a low."""
    x, y = at
    runs = tuple(np.array([[x + d, y - 0.4], [x + d, y + 0.6]]) for d in (-1.6, 0.0, 1.6))
    line = np.array([[x - 2.4, y - 0.4], [x + 2.4, y - 0.4]])
    return (Path((line, *runs), Pen(look.INK, 0.14, opacity=0.75), role="legend"),)


def vehicle_door(at: XY) -> tuple[Record, ...]:
    """Return the sample of a vehicle door."""
    x, y = at
    return (
        Line((x - 2.4, y), (x + 2.4, y), Pen(look.INK, 0.18, (0.9, 0.6)), role="legend"),
        Line((x - 2.4, y - 0.9), (x - 2.4, y + 0.9), Pen(look.INK, 0.4), role="legend"),
        Line((x + 2.4, y - 0.9), (x + 2.4, y + 0.9), Pen(look.INK, 0.4), role="legend"),
    )
