"""Growth of routing water with the number of cells, and filling beside scikit-image's.

Run as ``python bench/water.py``. One rough floor with a door in one side, from 1,000 to a
million cells. Reconstruction by erosion from the door gives the same filled levels
(checked here); ours also gives the way out of every cell.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from skimage.morphology import reconstruction

from levelbook.floor.model import Array
from levelbook.floor.water import Cells, Mask, fill, make_cells, route

SIDES = (32, 100, 316, 1000)


@dataclass(frozen=True)
class Floor:
    """A square floor of ``side`` cells a side that slopes to a door, with hollows."""

    level: Array
    outlet: Mask
    cells: Cells


def make_floor(side: int) -> Floor:
    """Return a floor with random hollows of all sizes, the same for the same side."""
    rng = np.random.default_rng(side)
    y, x = np.mgrid[0:side, 0:side] / side
    level = y + 0.02 * rng.standard_normal((side, side))
    for _ in range(40):
        where, reach = rng.random(2), rng.uniform(0.02, 0.2)
        level -= 0.3 * np.exp(-((x - where[0]) ** 2 + (y - where[1]) ** 2) / reach**2)
    outlet = np.zeros((side, side), dtype=bool)
    outlet[0, side // 10 : side - side // 10] = True
    lines = np.arange(side, dtype=float)
    return Floor(level, outlet, make_cells(np.ones_like(outlet), outlet, lines, lines))


def seconds(work: Callable[[], object], rounds: int) -> float:
    """Return the least processor time of one run."""
    least = np.inf
    for _ in range(rounds):
        begun = time.process_time()
        work()
        least = min(least, time.process_time() - begun)
    return float(least)


def reconstructed(floor: Floor) -> Array:
    """Return the filled levels by scikit-image."""
    marker = np.where(floor.outlet, floor.level, floor.level.max())
    return np.asarray(
        reconstruction(marker, floor.level, method="erosion", footprint=np.ones((3, 3)))
    )


def main() -> None:
    """Print the growth, and the ratio of filling to scikit-image's."""
    print(
        f"{'cells':>9}{'route, ms':>11}{'against n·log n':>17}{'fill, ms':>9}"
        f"{'scikit-image':>14}{'ratio':>7}"
    )
    first = 0.0
    for side in SIDES:
        floor = make_floor(side)
        count, rounds = side**2, 5 if side < 300 else 2
        level = floor.level.reshape(1, -1)
        whole = seconds(lambda f=floor, z=level: route(f.cells, z), rounds)
        ours = seconds(lambda f=floor, z=level: fill(f.cells, z), rounds)
        theirs = seconds(lambda f=floor: reconstructed(f), rounds)
        apart = np.abs(fill(floor.cells, level)[0].reshape(side, side) - reconstructed(floor)).max()
        if apart > 1e-9:
            raise SystemExit(f"filled levels differ by {apart}")
        unit = whole / (count * np.log2(count))
        first = first or unit
        print(
            f"{count:9}{1e3 * whole:11.1f}{unit / first:17.2f}{1e3 * ours:9.1f}"
            f"{1e3 * theirs:14.1f}{ours / theirs:7.2f}"
        )


if __name__ == "__main__":
    main()
