"""The fitted surface on a grid, and contours clipped to the footprint."""

from collections.abc import Sequence
from typing import Literal, Protocol, cast

import numpy as np
import shapely
from contourpy import LineType, contour_generator
from numpy.typing import ArrayLike, NDArray

from levelbook.floor.model import Array, Contour, Grid, Point

CELLS = 120  # along the longer side
INTERVALS = {  # round contour intervals, level units
    "in": (0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0),
    "mm": (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0),
}
NO_GRID = Grid(np.empty(0), np.empty(0), np.empty((0, 0), bool), *(np.empty((0, 0)),) * 2)
"""A grid without nodes, where none was asked for."""


class Means(Protocol):
    """A fitted surface: heights at places."""

    def mean(self, at: ArrayLike) -> Array:
        """Return the mean (m,) at ``at`` (m, 2)."""


class Predicts(Protocol):
    """A fitted surface, or a truth: heights and their standard deviations at places."""

    def predict(self, at: ArrayLike) -> tuple[Array, Array]:
        """Return mean (m,) and standard deviation (m,) at ``at`` (m, 2)."""


def make_grid(
    surface: Predicts,
    outline: Sequence[Point],
    holes: Sequence[Sequence[Point]] = (),
    cells: int = CELLS,
) -> Grid:
    """Predict a surface on a grid with ``cells`` cells along the footprint's longer side.

    Cells are as nearly square as whole numbers of them allow.
    """
    grid, near, nodes = _empty_grid(outline, holes, cells)
    grid.mean[near], grid.sd[near] = surface.predict(nodes)
    return grid


def make_mean_grid(
    surface: Means,
    outline: Sequence[Point],
    holes: Sequence[Sequence[Point]] = (),
    cells: int = CELLS,
) -> Grid:
    """Return the grid of :func:`make_grid` without standard errors (NaN), in less time."""
    grid, near, nodes = _empty_grid(outline, holes, cells)
    grid.mean[near] = surface.mean(nodes)
    return grid


def _empty_grid(
    outline: Sequence[Point], holes: Sequence[Sequence[Point]], cells: int
) -> tuple[Grid, NDArray[np.bool_], Array]:
    """Return a grid of NaN, which of its nodes are to be filled, and those (m, 2)."""
    footprint = shapely.Polygon(outline, holes)
    low_x, low_y, high_x, high_y = footprint.bounds
    step = max(high_x - low_x, high_y - low_y) / cells
    x = np.linspace(low_x, high_x, max(1, round((high_x - low_x) / step)) + 1)
    y = np.linspace(low_y, high_y, max(1, round((high_y - low_y) / step)) + 1)
    nodes = np.stack(np.meshgrid(x, y), axis=-1)
    reach = 1.01 * float(np.hypot(x[1] - x[0], y[1] - y[0]))
    near = _on(footprint.buffer(reach), nodes)
    mean, sd = np.full(near.shape, np.nan), np.full(near.shape, np.nan)
    return Grid(x=x, y=y, inside=_on(footprint, nodes), mean=mean, sd=sd), near, nodes[near]


def _on(polygon: shapely.Geometry, nodes: Array) -> NDArray[np.bool_]:
    shapely.prepare(polygon)
    return np.asarray(shapely.intersects_xy(polygon, nodes[..., 0], nodes[..., 1]))


def contours(
    grid: Grid,
    outline: Sequence[Point],
    interval: float,
    *,
    holes: Sequence[Sequence[Point]] = (),
    values: Array | None = None,
) -> tuple[Contour, ...]:
    """Return the lines at all multiples of ``interval``, clipped to the outline less holes.

    ``values`` (ny, nx) takes the place of the grid's mean (its sd, or the mean less the
    tilt). Lines come lowest level first; a closed line ends where it starts.
    """
    field = grid.mean if values is None else values
    seen = field[grid.inside]
    if not seen.size:
        return ()
    first, last = np.floor(seen.min() / interval), np.ceil(seen.max() / interval)
    levels = [k * interval for k in range(int(first), int(last) + 1)]
    generator = contour_generator(
        grid.x, grid.y, np.ma.masked_invalid(field), line_type=LineType.Separate
    )
    footprint = shapely.Polygon(outline, holes)
    return tuple(
        Contour(level, line)
        for level in levels
        if seen.min() < level < seen.max()
        for line in _clipped(cast(list[Array], generator.lines(level)), footprint)
    )


def _clipped(lines: list[Array], footprint: shapely.Polygon) -> list[Array]:
    """Return the parts of lines within a footprint, pieces that meet end to end joined."""
    whole = [shapely.LineString(line) for line in lines if len(line) > 1]
    parts = shapely.get_parts(shapely.intersection(whole, footprint))
    pieces = [p for p in shapely.get_parts(parts) if p.geom_type == "LineString" and p.length > 0]
    joined = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(pieces)))
    return [np.asarray(line.coords) for line in joined]


def contour_interval(spread: float, unit: Literal["in", "mm"], most: int = 10) -> float:
    """Return the smallest round interval with at most ``most`` lines over a spread."""
    return next((i for i in INTERVALS[unit] if spread <= most * i), INTERVALS[unit][-1])
