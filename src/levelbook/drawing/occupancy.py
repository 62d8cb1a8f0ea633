"""What is taken on the sheet, as a fine raster: the ground that labels are placed on.

A cell is *taken* (no label may touch it) or carries a *cost* (better left free: a wall, a
contour). Cells under text are marked as well, so that lines can make way for it. Boxes are
widened to whole cells, so that what the raster calls free is free.
"""

from collections.abc import Mapping
from math import ceil, floor, hypot

import numpy as np
from numpy.typing import NDArray

from levelbook.drawing.records import XY, Array

Box = tuple[float, float, float, float]
"""Left, top, right, bottom in millimetres."""

_OWN = 2.4
FORBIDDING = 5
"""Cost of a line that a turned text, which has other places to go, may not cross at all."""


class Occupancy:
    """A sheet of ``width`` by ``height`` millimetres in cells of ``cell`` millimetres."""

    def __init__(
        self, width: float, height: float, *, margin: float = 0.6, cell: float = 0.3
    ) -> None:
        self.width, self.height, self.cell, self.margin = width, height, cell, margin
        self._shape = (ceil(height / cell) + 1, ceil(width / cell) + 1)
        self.taken: NDArray[np.uint8] = np.zeros(self._shape, np.uint8)
        self.text: NDArray[np.uint8] = np.zeros(self._shape, np.uint8)
        self.cost: NDArray[np.uint8] = np.zeros(self._shape, np.uint8)
        self.wanted: NDArray[np.uint8] = np.zeros(self._shape, np.uint8)
        self._abroad: dict[str, NDArray[np.uint8]] = {}

    def _cells(self, box: Box) -> tuple[int, int, int, int]:
        ny, nx = self._shape
        left, top, right, bottom = box
        c = self.cell
        return (
            max(floor(top / c), 0),
            min(max(ceil(bottom / c), 0), ny),
            max(floor(left / c), 0),
            min(max(ceil(right / c), 0), nx),
        )

    def on_sheet(self, box: Box) -> bool:
        """Whether a box lies within the sheet's margins."""
        m = self.margin
        return (
            box[0] >= m and box[1] >= m and box[2] <= self.width - m and box[3] <= self.height - m
        )

    def divide(self, areas: Mapping[str, tuple[Array, ...]], weight: int = 3) -> None:
        """Make it dear for the labels of one area to stand in another.

        ``areas`` are rings (n, 2) by id. Call it once all lines have been weighed.
        """
        inside = {key: self._parity(rings) for key, rings in areas.items()}
        for key in areas:
            other = np.zeros(self._shape, bool)
            for each, mask in inside.items():
                if each != key:
                    other |= mask
            self._abroad[key] = self.cost + (weight * other).astype(np.uint8)

    def _parity(self, rings: tuple[Array, ...]) -> NDArray[np.bool_]:
        """Return the cells inside rings by the even-odd rule, row by row."""
        flips = np.zeros(self._shape, np.uint8)
        centres = (np.arange(self._shape[0]) + 0.5) * self.cell
        for ring in rings:
            for (x0, y0), (x1, y1) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
                if y0 == y1:
                    continue
                rows = np.flatnonzero((centres >= min(y0, y1)) & (centres < max(y0, y1)))
                x = x0 + (centres[rows] - y0) * (x1 - x0) / (y1 - y0)
                cols = np.clip(np.ceil(x / self.cell - 0.5), 0, self._shape[1] - 1)
                flips[rows, cols.astype(np.intp)] ^= 1
        return np.asarray(np.bitwise_xor.accumulate(flips, axis=1), bool)

    def price(self, box: Box, area: str | None = None, *, shy: bool = False) -> float | None:
        """Return the cost of putting a label into a box, ``None`` where it cannot go.

        With an ``area``, places in other areas are dear; if ``shy``, those that other labels
        will want.
        """
        if not self.on_sheet(box):
            return None
        a, b, c, d = self._cells(box)
        if self.taken[a:b, c:d].any():
            return None
        cost = self.cost if area is None else self._abroad.get(area, self.cost)
        price = float(cost[a:b, c:d].sum())
        return price + float(self.wanted[a:b, c:d].sum()) if shy else price

    def take(self, box: Box, *, text: bool = False) -> None:
        """Take a box, for text if so; what lies off the sheet is left out."""
        a, b, c, d = self._cells(box)
        self.taken[a:b, c:d] = 1
        if text:
            self.text[a:b, c:d] = 1

    def crowd(self, at: XY, reach: float) -> None:
        """Mark the square round a place where another label will want to stand."""
        x, y = at
        a, b, c, d = self._cells((x - reach, y - reach, x + reach, y + reach))
        self.wanted[a:b, c:d] = 1

    def take_disc(self, at: XY, radius: float) -> None:
        """Take the square round a symbol."""
        x, y = at
        self.take((x - radius, y - radius, x + radius, y + radius))

    def _index(self, points: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the cells (row, column) of points (n, 2), those off the sheet left out."""
        ny, nx = self._shape
        col, row = np.floor(points / self.cell).astype(np.intp).T
        keep = (row >= 0) & (row < ny) & (col >= 0) & (col < nx)
        return row[keep], col[keep]

    def weigh(self, runs: tuple[Array, ...], weight: int, *, closed: bool = False) -> None:
        """Raise the cost of the cells along runs of points to at least ``weight``."""
        if not runs:
            return
        row, col = self._index(np.concatenate([along(run, self.cell, closed) for run in runs]))
        self.cost[row, col] = np.maximum(self.cost[row, col], weight)

    def under_text(self, points: Array) -> bool:
        """Whether any of the points (n, 2) lies under text."""
        row, col = self._index(points)
        return bool(self.text[row, col].any())

    def take_line(self, a: XY, b: XY) -> None:
        """Take the cells along a straight line."""
        row, col = self._index(along(np.array([a, b]), self.cell))
        self.taken[row, col] = 1

    def price_line(self, a: XY, b: XY, area: str | None = None) -> float | None:
        """Return the cost of a leader along a straight line, ``None`` through anything taken.

        What is taken right at its beginning is the symbol it comes from.
        """
        row, col = self._index(along(np.array([a, b]), self.cell))
        taken = self.taken[row, col]
        free = np.flatnonzero(taken == 0)
        first = int(free[0]) if len(free) else len(taken)
        if first * self.cell > _OWN or taken[first:].any() or self.text[row, col].any():
            return None
        cost = self.cost if area is None else self._abroad.get(area, self.cost)
        return float(cost[row, col].sum())

    def _filled(self, corners: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the cells of a turned box, given its four corners in order."""
        origin, u, v = corners[0], corners[1] - corners[0], corners[3] - corners[0]
        step = self.cell * 0.5
        n, m = ceil(hypot(*u) / step) + 1, ceil(hypot(*v) / step) + 1
        s, t = np.linspace(0, 1, n), np.linspace(0, 1, m)
        points = origin + s[:, None, None] * u + t[None, :, None] * v
        return self._index(points.reshape(-1, 2))

    def price_turned(self, corners: Array) -> float | None:
        """Return the cost of a turned box, ``None`` where it cannot go."""
        low, high = corners.min(axis=0), corners.max(axis=0)
        if not self.on_sheet((low[0], low[1], high[0], high[1])):
            return None
        row, col = self._filled(corners)
        cost = self.cost[row, col]
        if self.taken[row, col].any() or (cost >= FORBIDDING).any():
            return None
        return float(cost.sum()) * 0.25

    def take_turned(self, corners: Array) -> None:
        """Take a turned box of text and the cells next to it."""
        row, col = self._filled(corners)
        ny, nx = self._shape
        self.text[row, col] = 1
        beside = [np.clip(col + by, 0, nx - 1) for by in (-1, 0, 1)]
        for by in (-1, 0, 1):
            near = np.clip(row + by, 0, ny - 1)
            for each in beside:
                self.taken[near, each] = 1


def along(run: Array, step: float, closed: bool = False) -> Array:
    """Return points along a run (n, 2), at most ``step`` apart."""
    points = np.vstack([run, run[:1]]) if closed else run
    delta = np.diff(points, axis=0)
    pieces = np.maximum(np.ceil(np.hypot(delta[:, 0], delta[:, 1]) / step), 1).astype(np.intp)
    start = np.repeat(points[:-1], pieces, axis=0)
    first = np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = (np.arange(pieces.sum()) - first) / np.repeat(pieces, pieces)
    inner = start + share[:, None] * np.repeat(delta, pieces, axis=0)
    return np.vstack([inner, points[-1:]])
