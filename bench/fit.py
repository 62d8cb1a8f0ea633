"""Time of the fitted surface against scikit-learn's regressor, side by side in one run.

Run as ``python bench/fit.py``. Both get the levels of one simulated house of 150 stations,
estimate an amplitude, a length and a noise for a Matérn 5/2 covariance and predict mean and
standard deviation on a 200 × 200 grid. Ours also has a linear trend and correlated noise.
"""

import os
import sys

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import cholesky
from sklearn.exceptions import ConvergenceWarning
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

from levelbook.book.model import Book
from levelbook.floor.fit import fit_surface
from levelbook.floor.model import Array, TooFew
from levelbook.floor.simulate import simulate_house
from levelbook.floor.surface import Surface
from levelbook.levels.model import Levels
from levelbook.levels.reduction import reduce

STATIONS, SIDE, ROUNDS = 150, 200, 7
SIZES = (25, 50, 100, 150, 300, 400, 600, 1000)


@dataclass(frozen=True)
class Job:
    """One house, its levels and the grid to predict on."""

    book: Book
    levels: Levels
    grid: Array


def make_job(stations: int, seed: int = 5) -> Job:
    """Simulate the house that both fit."""
    house = simulate_house(np.random.default_rng(seed), kind="process", stations=stations, plan="L")
    corners = np.array(house.book.areas[0].outline)
    x, y = (np.linspace(0.0, side, SIDE) for side in corners.max(axis=0))
    return Job(house.book, reduce(house.book), np.stack(np.meshgrid(x, y), -1).reshape(-1, 2))


def our_fit(job: Job) -> Surface:
    """Estimate the hyperparameters and factor what predictions need."""
    surface = fit_surface(job.levels, job.book, "house")
    if isinstance(surface, TooFew):
        raise SystemExit(f"too few stations: {surface}")
    surface.predict(job.grid[:1])
    return surface


def their_fit(job: Job) -> GaussianProcessRegressor:
    """Fit scikit-learn's regressor with the same kind of covariance, its own optimiser."""
    xy = np.array([s.at for s in job.book.stations])
    kernel = ConstantKernel(0.1) * Matern(20.0, nu=2.5) + WhiteKernel(0.005)
    regressor = GaussianProcessRegressor(kernel, normalize_y=False)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        return regressor.fit(xy, job.levels.level - job.levels.level.mean())


def best(task: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the least time of several runs, seconds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return min(times)


def bare_algebra(job: Job, evaluations: int = 6) -> float:
    """Return the time of factoring and inverting as often as a fit does, and no more."""
    n = len(job.levels.ids)
    matrix = np.eye(n) + 0.5

    def work() -> None:
        for _ in range(evaluations):
            lower = cholesky(matrix, lower=True, check_finite=False)
            lower @ lower

    return best(work)


def growth() -> None:
    """Print the time of fit and prediction by number of stations."""
    print(f"{'stations':>9}{'fit ms':>9}{'algebra':>9}{'predict':>9}")
    for stations in SIZES:
        job = make_job(stations)
        surface = our_fit(job)
        times = [
            best(lambda job=job: our_fit(job), 3),
            bare_algebra(job),
            best(lambda job=job, surface=surface: surface.predict(job.grid), 3),
        ]
        print(f"{stations:9}" + "".join(f"{1e3 * t:9.1f}" for t in times))


def main() -> bool:
    """Print both times and their ratio; whether ours is at least three times as fast."""
    job = make_job(STATIONS)
    ours, theirs = our_fit(job), their_fit(job)
    rows = [
        ("fit", best(lambda: our_fit(job)), best(lambda: their_fit(job))),
        (
            "predict mean and sd",
            best(lambda: ours.predict(job.grid)),
            best(lambda: theirs.predict(job.grid, return_std=True)),
        ),
    ]
    rows.append(("both", rows[0][1] + rows[1][1], rows[0][2] + rows[1][2]))
    print(f"surface of {STATIONS} stations on {SIDE} × {SIDE}, milliseconds, best of {ROUNDS}")
    print(f"{'':22}{'ours':>9}{'scikit-learn':>14}{'ratio':>8}")
    for name, mine, other in rows:
        print(f"{name:22}{1e3 * mine:9.1f}{1e3 * other:14.1f}{other / mine:8.1f}")
    mean, their_mean = ours.predict(job.grid)[0], theirs.predict(job.grid)
    gap = mean - their_mean - np.median(mean - their_mean)
    print(f"the two surfaces differ by {np.std(gap):.3f} in (rms, zero aside)")
    growth()
    return rows[2][2] >= 3 * rows[2][1]


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
