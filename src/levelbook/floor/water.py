"""Where water goes on a floor: steepest descent, low spots and the way out, on a grid.

Steepest descent goes to the lowest of eight neighbours (O'Callaghan & Mark 1984, *Computer
Vision, Graphics, and Image Processing* 28, 323). A low spot fills to the level at which it
first spills towards an outlet: the least, over all paths to an outlet, of the highest floor
on the path. That is what the priority-flood algorithm computes (Barnes, Lehman & Mulla 2014,
*Computers & Geosciences* 62, 117); here it is read off a minimum spanning tree, which holds
such a path for every cell at once (Hu 1961, *Operations Research* 9, 898).

Many floors (posterior draws) of one grid go through together: levels are (draws, cells).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

from levelbook.floor.model import Array

Index = NDArray[np.intp]
Mask = NDArray[np.bool_]

_STEPS = ((0, 1), (1, 0), (1, 1), (1, -1), (0, -1), (-1, 0), (-1, -1), (-1, 1))


@dataclass(frozen=True)
class Cells:
    """The cells of a floor: ``rows``, ``columns`` (m,), neighbours and their distance (m, 8).

    A neighbour of -1 is a wall or beyond. ``outlet`` (m,) marks cells that let water out.
    """

    rows: Index
    columns: Index
    neighbour: Index
    distance: Array
    outlet: Mask

    @property
    def at_wall(self) -> Mask:
        """Cells (m,) with a side neighbour missing."""
        sides = self.neighbour[:, [0, 1, 4, 5]]
        return np.asarray((sides < 0).any(axis=1))


@dataclass(frozen=True)
class Routing:
    """Flow over (draws, m) levels; indices are cells.

    ``receiver`` is the next cell downhill (itself at a low point or outlet), ``end`` the cell
    where a drop comes to rest or leaves, ``filled`` the water level with every low spot full,
    ``spill`` the next cell on the way out over full low spots (-1 where there is no way).
    """

    receiver: Index
    end: Index
    filled: Array
    spill: Index


def make_cells(inside: Mask, outlet: Mask, x: Array, y: Array) -> Cells:
    """Return the cells of a grid: ``inside`` and ``outlet`` are (ny, nx).

    ``x`` (nx,) and ``y`` (ny,) rise; they need not be evenly spaced.
    """
    rows, columns = np.nonzero(inside)
    number = np.full((inside.shape[0] + 2, inside.shape[1] + 2), -1, dtype=np.intp)
    number[rows + 1, columns + 1] = np.arange(rows.size)
    neighbour = np.stack([number[rows + 1 + i, columns + 1 + j] for i, j in _STEPS], axis=1)
    aside, up = (np.pad(a, 1, constant_values=np.nan) for a in (x, y))
    distance = np.stack(
        [
            np.hypot(up[rows + 1 + i] - y[rows], aside[columns + 1 + j] - x[columns])
            for i, j in _STEPS
        ],
        axis=1,
    )
    return Cells(rows, columns, neighbour, distance, outlet[rows, columns])


def route(cells: Cells, level: Array) -> Routing:
    """Route water over ``level`` (draws, m); the order of work is m·log(m) a draw."""
    receiver = steepest_descent(cells, level)
    filled, spill = fill(cells, level)
    return Routing(receiver, follow(receiver), filled, spill)


def steepest_descent(cells: Cells, level: Array) -> Index:
    """Return the neighbour that lies lowest by slope (draws, m); itself where none is lower."""
    best = np.zeros(level.shape)
    receiver = np.broadcast_to(np.arange(level.shape[1]), level.shape).copy()
    for there, distance in zip(cells.neighbour.T, cells.distance.T, strict=True):
        slope = np.where(there < 0, 0.0, (level - level[:, there]) / distance)
        steeper = slope > best
        best = np.where(steeper, slope, best)
        receiver = np.where(steeper, there, receiver)
    return np.where(cells.outlet, np.arange(level.shape[1]), receiver)


def follow(receiver: Index) -> Index:
    """Follow receivers (draws, m) to their ends, doubling the stride each time."""
    end = receiver
    while True:
        further = np.take_along_axis(end, end, axis=1)
        if np.array_equal(further, end):
            return end
        end = further


def fill(cells: Cells, level: Array) -> tuple[Array, Index]:
    """Return the full water level (draws, m) and the next cell on the way out (draws, m).

    What no outlet can be reached from never spills: its level is infinite.
    """
    draws, m = level.shape
    if not cells.outlet.any():
        return np.full(level.shape, np.inf), np.full(level.shape, -1, dtype=np.intp)
    root = draws * m
    parent = _way_out(cells, level, root)
    highest, ahead = np.append(level.ravel(), -np.inf), parent.copy()
    while True:
        highest = np.maximum(highest, highest[ahead])
        further = ahead[ahead]
        if np.array_equal(further, ahead):
            break
        ahead = further
    escapes = (ahead[:root] == root).reshape(level.shape)
    out = parent[:root].reshape(level.shape)
    spill = np.where(escapes & (out != root), out - np.arange(draws)[:, None] * m, -1)
    return np.where(escapes, highest[:root].reshape(level.shape), np.inf), spill


def _way_out(cells: Cells, level: Array, root: int) -> Index:
    """Return each cell's parent (draws·m + 1,) in a spanning tree grown from the outlets."""
    draws, m = level.shape
    first, second = _edges(cells)
    outlets = np.flatnonzero(cells.outlet)
    offset = np.arange(draws)[:, None] * m
    start = np.concatenate([(first + offset).ravel(), (outlets + offset).ravel()])
    stop = np.concatenate([(second + offset).ravel(), np.full(draws * outlets.size, root)])
    weight = np.concatenate(
        [np.maximum(level[:, first], level[:, second]).ravel(), level[:, outlets].ravel()]
    )
    # The tree needs ranks alone; a weight of 0 would read as no edge.
    rank = np.unique(weight, return_inverse=True)[1].astype(float) + 1.0
    tree = minimum_spanning_tree(coo_array((rank, (start, stop)), shape=(root + 1, root + 1)))
    parent = breadth_first_order(tree, root, directed=False)[1].astype(np.intp)
    parent[root] = root
    return np.where(parent < 0, np.arange(parent.size), parent)


def _edges(cells: Cells) -> tuple[Index, Index]:
    """Return each pair of neighbouring cells once."""
    start = np.repeat(np.arange(cells.rows.size), 4)
    stop = cells.neighbour[:, :4].ravel()
    there = stop >= 0
    return start[there], stop[there]
