"""How a sheet is shared between the plan and its legend.

The legend is a list of blocks of known height. It stands beside the plan or below it,
whichever leaves the plan larger.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from levelbook.drawing.occupancy import Box
from levelbook.drawing.records import XY, Record, Text
from levelbook.drawing.theme import INK, Theme
from levelbook.errors import UsageError

GAP = 1.2
LEAST = (60.0, 60.0)
"""Width and height in millimetres below which no sheet is drawn."""

_NARROW, _SMALLER, _LEAST_PLAN = 120.0, 0.82, 0.22


@dataclass(frozen=True, slots=True)
class Block:
    """A piece of the legend: its height, and how it is drawn from its upper left corner.

    ``draw`` takes that corner and the scale of the plan in millimetres a plan unit.
    """

    height: float
    draw: Callable[[XY, float], tuple[Record, ...]]


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things go: the sheet, the rooms of plan and legend, every block with its corner."""

    width: float
    height: float
    room: Box
    legend: Box
    blocks: tuple[tuple[Block, XY], ...]


def stack(
    lines: Sequence[str], at: XY, theme: Theme, *, weight: int = 400, size: float | None = None
) -> tuple[Text, ...]:
    """Return lines of legend text below each other, ``at`` being their upper left corner."""
    size = theme.text if size is None else size
    return tuple(
        Text((at[0], at[1] + 0.8 * size + k * lead(theme)), line, size, INK, weight, role="legend")
        for k, line in enumerate(lines)
    )


def lead(theme: Theme) -> float:
    """Return the distance from one legend line to the next."""
    return 1.28 * theme.text


def flow(blocks: Sequence[Block], columns: int) -> tuple[float, list[list[Block]]]:
    """Share blocks, in order, among columns so that the tallest is as short as possible."""
    total = sum(b.height + GAP for b in blocks)
    limit = max([total / columns, *(b.height + GAP for b in blocks)])
    while True:
        shared = _pour(blocks, limit)
        if len(shared) <= columns:
            tallest = max((sum(b.height + GAP for b in c) for c in shared), default=GAP)
            return tallest - GAP, shared
        limit *= 1.04


def _pour(blocks: Sequence[Block], limit: float) -> list[list[Block]]:
    columns: list[list[Block]] = [[]]
    filled = 0.0
    for block in blocks:
        if columns[-1] and filled + block.height + GAP > limit * (1 + 1e-9):
            columns.append([])
            filled = 0.0
        columns[-1].append(block)
        filled += block.height + GAP
    return columns


def _corners(columns: list[list[Block]], at: XY, pitch: float) -> list[tuple[Block, XY]]:
    """Return blocks with their corners, columns side by side from ``at``."""
    out = []
    for k, column in enumerate(columns):
        y = at[1]
        for block in column:
            out.append((block, (at[0] + k * pitch, y)))
            y += block.height + GAP
    return out


def _beside(
    blocks: list[Block], width: float, height: float, column: float, columns: int, theme: Theme
) -> Layout | None:
    """Return the layout with the legend to the right, ``None`` where it does not fit."""
    m, free = theme.margin, 3.5
    tall, shared = flow(blocks, columns)
    pitch = column + 2.0
    left = width - m - columns * pitch + 2.0
    if tall > height - 2 * m or left < 0.4 * width or len(shared) < columns:
        return None
    top = min(m + theme.room * 0.6, height - m - tall)
    room = (theme.room, theme.room, left - free - theme.room, height - theme.room)
    corners = tuple(_corners(shared, (left, top), pitch))
    return Layout(width, height, room, (left - 2.0, 0.0, width, height), corners)


def _below(
    blocks: list[Block], extent: Box, width: float, height: float | None, theme: Theme
) -> Layout | None:
    """Return the layout with the legend below, ``None`` where it crowds the plan out."""
    m, free = theme.margin, 2.0
    columns, pitch = columns_below(width, theme)
    tall, shared = flow(blocks, columns)
    wide = width - 2 * theme.room
    chosen = height is None
    if height is None:
        aspect = (extent[3] - extent[1]) / max(extent[2] - extent[0], 1e-9)
        map_height = min(max(wide * aspect, 0.3 * wide), 1.5 * wide)
        height = map_height + 2 * theme.room + free + tall + m
    bottom = height - m - tall - free
    if not chosen and bottom - 2 * theme.room < _LEAST_PLAN * height:
        return None
    room = (theme.room, theme.room, width - theme.room, bottom - theme.room)
    corners = _corners(shared, (m + 1.0, height - m - tall), pitch)
    return Layout(width, height, room, (0.0, bottom + 1.0, width, height), tuple(corners))


def columns_below(width: float, theme: Theme) -> tuple[int, float]:
    """Return how many columns a legend below has, and their pitch."""
    usable = width - 2 * theme.margin - 2.0
    count = max(1, int(usable // (15.8 * theme.text)))
    return count, usable / count


def arrange(
    make: Callable[[float, Theme], list[Block]],
    extent: Box,
    width: float,
    height: float | None,
    theme: Theme,
) -> Layout:
    """Return the layout that leaves the plan largest.

    Parameters
    ----------
    make
        Returns the blocks of the legend for a column of a given width in a given theme, the
        most needed first.
    extent
        What is drawn, in plan units.
    width, height
        The sheet in millimetres; a height of ``None`` is chosen to suit.
    theme
        The look; where room is short the legend, not the plan, is set smaller, and at last
        cut to its first two blocks.

    Raises
    ------
    UsageError
        If the sheet is too small for any plan.
    """
    if width < LEAST[0] or (height is not None and height < LEAST[1]):
        raise UsageError(
            "width_mm, height_mm",
            f"a sheet of {width:g} by {height or 0:g} mm is too small for a plan",
            f"give at least {LEAST[0]:g} by {LEAST[1]:g} mm",
        )
    small = theme.scaled(_SMALLER)
    tried = [*_tried(make, extent, width, height, theme)]
    if height is not None and width >= _NARROW:
        tried += [(0.93 * a, b) for a, b in _tried(make, extent, width, height, small)]
    if not tried:
        tried = [*_tried(lambda w, t: make(w, t)[:2], extent, width, height, small)]
    return max(tried, key=lambda each: each[0])[1]


def _tried(
    make: Callable[[float, Theme], list[Block]],
    extent: Box,
    width: float,
    height: float | None,
    theme: Theme,
) -> Iterator[tuple[float, Layout]]:
    """Yield the layouts that are possible, each with the scale of its plan."""
    _, pitch = columns_below(width, theme)
    layouts = [_below(make(pitch - 4.0, theme), extent, width, height, theme)]
    if height is not None and width >= _NARROW:
        column = 18.0 * theme.text
        blocks = make(column, theme)
        layouts += [_beside(blocks, width, height, column, n, theme) for n in (1, 2)]
    for layout in layouts:
        if layout is not None:
            yield _room_scale(extent, layout), layout


def _room_scale(extent: Box, layout: Layout) -> float:
    left, top, right, bottom = layout.room
    wide, tall = max(extent[2] - extent[0], 1e-9), max(extent[3] - extent[1], 1e-9)
    return min((right - left) / wide, (bottom - top) / tall)
