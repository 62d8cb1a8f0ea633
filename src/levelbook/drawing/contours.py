"""Bands and contours of a field on the sheet, clipped to the footprint.

Bands are painted one over the other, each from its lower edge upward, so that no seam of
paper shows between them. Contours carry what they mean: heavy at index levels, dashed where
the surface is less sure than a step, ticked on the low side where they close on a low.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from contourpy import FillType, LineType, contour_generator
from numpy.typing import NDArray
from shapely import Polygon

from levelbook.drawing import records as r
from levelbook.drawing.fields import Bands, Field
from levelbook.drawing.frame import Frame
from levelbook.drawing.records import Array
from levelbook.drawing.wording import Z95

_SMOOTH = 0.035
_TICK_EVERY, _TICK = 4.0, 1.1


@dataclass(frozen=True, eq=False)
class Contour:
    """One run (n, 2) of a contour on the sheet; ``unsure`` (n,) by point.

    ``hollow`` is a closed run round a low; the low side is then to the right of the run's
    direction as it is kept here.
    """

    level: float
    run: Array
    unsure: NDArray[np.bool_]
    index: bool
    hollow: bool

    @cached_property
    def length(self) -> float:
        """Length in millimetres."""
        step = np.diff(self.run, axis=0)
        return float(np.hypot(step[:, 0], step[:, 1]).sum())


class OnSheet:
    """A field with its footprint on the sheet; rows run from the top of the sheet down."""

    def __init__(self, field: Field, bands: Bands, frame: Frame) -> None:
        self.field, self.bands = field, bands
        self.footprint: Polygon = frame.polygon(field.footprint)
        shapely.prepare(self.footprint)
        self.x, self.y = frame.xs(field.x), frame.ys(field.y)[::-1]
        self.value, self.sd = field.value[::-1], field.sd[::-1]
        self._contours = contour_generator(
            self.x,
            self.y,
            self.value,
            line_type=LineType.Separate,
            fill_type=FillType.OuterOffset,
        )

    def fills(self) -> Iterator[r.Polygon]:
        """Yield the bands from the lowest up, each over the one below."""
        steps = list(zip(self.bands.edges[1:-1], self.bands.colours[1:], strict=True))
        below = sum(edge <= self.field.low for edge, _ in steps)
        yield r.Polygon(_rings(self.footprint), r.Fill(self.bands.colours[below]), role="band")
        for edge, tone in steps[below:]:
            if edge >= self.field.high:
                break
            parts = [
                _holed(ring, [int(o) for o in offset])
                for ring, offset in zip(*self._contours.filled(edge, np.inf), strict=True)
            ]
            cut = shapely.intersection(np.array(parts, object), self.footprint)
            kept = [p for p in shapely.get_parts(cut) if p.geom_type == "Polygon"]
            rings = tuple(
                ring for p in kept for ring in _rings(shapely.simplify(p, _SMOOTH)) if len(ring) > 2
            )
            if rings:
                yield r.Polygon(rings, r.Fill(tone), role="band")

    def lines(self) -> Iterator[Contour]:
        """Yield the contours at the edges of the bands."""
        for level in self.bands.edges:
            runs = [run for run in self._contours.lines(level) if len(run) > 1]
            if not runs:
                continue
            cut = shapely.intersection(
                np.array([shapely.LineString(run) for run in runs], object), self.footprint
            )
            for part in shapely.get_parts(cut):
                if part.geom_type == "LineString" and part.length > 0.8:
                    yield self._contour(level, part)

    def _contour(self, level: float, line: shapely.LineString) -> Contour:
        """Return one clipped run, thinned to what the eye can see."""
        hollow = line.is_closed and not shapely.LinearRing(line.coords).is_ccw
        run = np.asarray(shapely.simplify(line, _SMOOTH).coords)
        unsure = Z95 * self.at(run, self.sd) > self.bands.step
        return Contour(level, run, unsure, self.bands.is_index(level), bool(hollow))

    def at(self, points: Array, values: Array) -> Array:
        """Return the values at the grid points nearest to points (n, 2)."""
        col = np.rint((points[:, 0] - self.x[0]) / (self.x[1] - self.x[0])).astype(np.intp)
        row = np.rint((points[:, 1] - self.y[0]) / (self.y[1] - self.y[0])).astype(np.intp)
        ny, nx = values.shape
        return np.asarray(values[np.clip(row, 0, ny - 1), np.clip(col, 0, nx - 1)])


def _holed(points: Array, offsets: list[int]) -> Polygon:
    """Return a polygon from its rings laid end to end."""
    outer, *holes = (points[a:b] for a, b in pairwise(offsets))
    return Polygon(outer, holes)


def _rings(polygon: Polygon) -> tuple[Array, ...]:
    """Return the rings of a polygon, each (n, 2) and not closed."""
    return tuple(np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors))


def ticks(contour: Contour) -> tuple[Array, ...]:
    """Return short strokes on the low side of a contour that closes on a low."""
    if not contour.hollow:
        return ()
    step = np.diff(contour.run, axis=0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    count = max(4, round(along[-1] / _TICK_EVERY))
    at = (np.arange(count) + 0.5) * along[-1] / count
    x, y = (np.interp(at, along, contour.run[:, i]) for i in (0, 1))
    which = np.clip(np.searchsorted(along, at) - 1, 0, len(step) - 1)
    direction = step[which] / np.hypot(*step[which].T)[:, None]
    normal = np.column_stack([-direction[:, 1], direction[:, 0]]) * -1.0
    start = np.column_stack([x, y])
    length = min(_TICK, contour.length / 12)
    return tuple(np.array([a, a + length * n]) for a, n in zip(start, normal, strict=True))


def pieces(run: Array, keep: NDArray[np.bool_]) -> Iterator[tuple[Array, bool]]:
    """Yield the stretches of a run (n, 2) by a property of its points, with the property.

    Neighbouring stretches share the point where they meet.
    """
    change = np.flatnonzero(np.diff(keep.astype(np.int8))) + 1
    start = 0
    for end in (*change.tolist(), len(run) - 1):
        if end > start:
            yield run[start : end + 1], bool(keep[start])
        start = end


def outside(run: Array, taken: NDArray[np.uint8], cell: float) -> Iterator[Array]:
    """Yield what is left of a run (n, 2) where the raster ``taken`` is not set."""
    step = np.diff(run, axis=0)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
    at = np.union1d(along, np.arange(0.0, along[-1], cell))
    points = np.column_stack([np.interp(at, along, run[:, i]) for i in (0, 1)])
    col, row = (points / cell).astype(np.intp).T
    ny, nx = taken.shape
    free = taken[np.clip(row, 0, ny - 1), np.clip(col, 0, nx - 1)] == 0
    if free.all():
        yield run
        return
    bound = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(np.int8)))
    own = np.isin(at, along)
    for first, last in zip(bound[::2], bound[1::2] - 1, strict=True):
        keep = own[first : last + 1].copy()
        keep[[0, -1]] = True
        if last > first:
            yield points[first : last + 1][keep]
