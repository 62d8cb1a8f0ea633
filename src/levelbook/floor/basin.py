"""The grid of a garage floor and the flow of water over it, film-thin low spots passed over.

The grid lies square to the vehicle door. A row of places on the sill itself lets water out,
so that a floor that falls away from the door lets none out; those places have no floor area.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from levelbook.floor.doorway import Doorway
from levelbook.floor.model import Array, Point
from levelbook.floor.water import (
    Cells,
    Index,
    Mask,
    Routing,
    follow,
    make_cells,
    route,
    steepest_descent,
)


@dataclass(frozen=True)
class Basin:
    """The grid of a garage floor: places (m, 2), cells, their floor area (m,) and drains (m,).

    ``across`` (nx,) and ``deep`` (ny,) are the grid's lines in the doorway's frame ``way``.
    """

    way: Doorway
    across: Array
    deep: Array
    xy: Array
    cells: Cells
    size: Array
    drain: Mask

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the grid."""
        return len(self.deep), len(self.across)

    @property
    def side(self) -> float:
        """Side of a cell, plan units."""
        return float(np.sqrt(self.size.max()))

    def nearest(self, at: Point) -> int:
        """Return the cell with floor nearest to a place."""
        away = ((self.xy - np.array(at)) ** 2).sum(axis=1)
        return int(np.where(self.size > 0, away, np.inf).argmin())


@dataclass(frozen=True)
class Flow:
    """Levels (draws, m) with their routing; next ``step``, ``end`` and ``depth`` (draws, m).

    Those three pass over films.
    """

    level: Array
    routing: Routing
    step: Index
    end: Index
    depth: Array


def make_basin(way: Doorway, drains: list[Point], target: int) -> Basin:
    """Lay about ``target`` nearly square cells on the floor behind a doorway."""
    u, v, size = _axes(way, target)
    across, deep = np.meshgrid(u, v)
    sill = (deep == 0) & (across > 0) & (across < way.width)
    # The wall beside the door lies on the sill's line, by rounding to either side of it.
    within = way.local_floor.buffer(-1e-9 * way.local_floor.length, join_style="mitre")
    inside = shapely.contains_xy(within, across, deep) | sill
    if not inside[deep > 0].any():
        away = np.where(deep > 0, np.hypot(across, deep), np.inf)
        inside.flat[away.argmin()] = True
    floor = size * inside * ~sill
    outlet, drain = sill.copy(), np.zeros_like(sill)
    for place in way.local(np.reshape(drains, (-1, 2))):
        away = np.hypot(across - place[0], deep - place[1])
        drain.flat[int(np.where(floor > 0, away, np.inf).argmin())] = True
    cells = make_cells(inside, outlet | drain, u, v)
    xy = way.plan(np.column_stack([across[inside], deep[inside]]))
    return Basin(way, u, v, xy, cells, floor[inside], drain[inside])


def _axes(way: Doorway, target: int) -> tuple[Array, Array, Array]:
    """Return the grid's lines along ``u`` (nx,) and ``v`` (ny,) and its cells' sizes (ny, nx).

    Cells fill the floor's bounding box; a line of no size lies on the sill, ``v`` = 0.
    """
    west, south, east, north = way.local_floor.bounds
    box = (east - west) * (north - south)
    side = float(np.sqrt(max(way.local_floor.area / target, box / (8 * target))))
    u, du = _middles(west, east, side)
    above, dv = _middles(0.0, max(north, 0.5 * side), side)
    below, dw = _middles(south, 0.0, side) if south < -0.5 * side else (np.zeros(0), 0.0)
    v = np.concatenate([below, [0.0], above])
    steps = np.concatenate([np.full(len(below), dw), [0.0], np.full(len(above), dv)])
    return u, v, steps[:, None] * np.full(len(u), du)


def _middles(low: float, high: float, side: float) -> tuple[Array, float]:
    """Return the middles of equal pieces of about ``side`` from low to high, and their size."""
    count = max(2, round((high - low) / side))
    step = (high - low) / count
    return np.asarray(low + step * (np.arange(count) + 0.5)), step


def run_water(basin: Basin, level: Array, film: float) -> Flow:
    """Route water over ``level`` (draws, m), passing over low spots no deeper than ``film``.

    A shallow low spot is levelled up to its lip; on level ground water takes the way out. What
    no outlet can be reached from has no depth.
    """
    cells = basin.cells
    routing = route(cells, level)
    depth = np.where(np.isfinite(routing.filled), routing.filled - level, 0.0)
    shallow = _shallow(basin, depth, film)
    surface = np.where(shallow, routing.filled, level)
    receiver = steepest_descent(cells, surface)
    here = np.arange(level.shape[1])
    resting = (receiver == here) & (shallow | (depth <= 0)) & ~cells.outlet
    step = np.where(resting & (routing.spill >= 0), routing.spill, receiver)
    return Flow(level, routing, step, follow(step), np.where(shallow, 0.0, depth))


def _shallow(basin: Basin, depth: Array, film: float) -> Mask:
    """Mark cells of every low spot whose deepest point is no deeper than ``film``."""
    label, count = number_low_spots(basin, depth)
    deepest = ndimage.maximum(depth, label, np.arange(count + 1)) if count else np.zeros(1)
    deepest = np.asarray(deepest)
    deepest[0] = np.inf
    return np.asarray(deepest[label] <= film)


def number_low_spots(basin: Basin, depth: Array) -> tuple[Index, int]:
    """Return the low spots of each draw numbered apart (draws, m), 0 where dry, and how many."""
    sheet = np.zeros((len(depth), *basin.shape), dtype=bool)
    sheet[:, basin.cells.rows, basin.cells.columns] = depth > 0
    joined = np.zeros((3, 3, 3), dtype=bool)
    joined[1] = True
    label, count = ndimage.label(sheet, joined)
    return label[:, basin.cells.rows, basin.cells.columns].astype(np.intp), int(count)


def shares(basin: Basin, flow: Flow) -> Array:
    """Return the shares (draws, 4) of the floor's area: to the door, a drain, a wall, standing.

    Each square foot counts by where water let go on it ends.
    """
    drain = basin.drain[flow.end]
    door = basin.cells.outlet[flow.end] & ~drain
    wall = basin.cells.at_wall[flow.end] & ~door & ~drain
    weight = basin.size / basin.size.sum()
    parts = [door @ weight, drain @ weight, wall @ weight]
    return np.stack([*parts, 1.0 - np.sum(parts, axis=0)], axis=1)
