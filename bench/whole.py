"""Time of the whole job: an assessment warm, a report cold, and the growth with stations.

Run as ``python bench/whole.py``. Everything is a ratio to a reference in the same run: warm,
scikit-learn's fit and prediction of the same house; cold, ``reference_script.py`` as a
process of its own; growth, the bare matrix work that no way round avoids.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from scipy.linalg import cholesky
from scipy.linalg.lapack import dpotri, dtrtri

import fit
from levelbook.book import Book, write_book
from levelbook.findings import assess
from levelbook.floor import AreaShape, find_suspects, fit_surface, make_grid, shape_floor
from levelbook.floor.fit import MOST
from levelbook.floor.simulate import simulate_house
from levelbook.levels import reduce

HERE = Path(__file__).resolve().parent
STATIONS, ROUNDS, COLD_ROUNDS = 150, 7, 5
SIZES = (25, 50, 100, 150, 250, 400, 600, 1000)
EVALUATIONS = 8


@dataclass(frozen=True)
class Ratio:
    """One comparison, milliseconds; ``asked`` is the ratio that is asked for."""

    name: str
    ours: float
    theirs: float
    asked: float

    @property
    def ratio(self) -> float:
        """How many times faster ours is."""
        return self.theirs / self.ours

    @property
    def row(self) -> dict[str, object]:
        """The comparison as plain values."""
        return asdict(self) | {"ratio": self.ratio, "met": self.ratio >= self.asked}


@dataclass(frozen=True)
class Growth:
    """Time of an assessment and its stages for one number of stations, milliseconds."""

    stations: int
    levels: float
    surface: float
    grid: float
    shape: float
    suspects: float
    words: float
    whole: float
    bare: float


def best(task: Callable[[], object], rounds: int = ROUNDS) -> float:
    """Return the least time of several runs after one to warm up, milliseconds."""
    task()
    return 1e3 * fit.best(task, rounds)


def house(stations: int) -> Book:
    """Return the simulated house that all are timed on."""
    rng = np.random.default_rng(5)
    return simulate_house(rng, kind="process", stations=stations, plan="L").book


def warm() -> list[Ratio]:
    """Compare the whole assessment with scikit-learn's fit and prediction alone."""
    job = fit.make_job(STATIONS)
    theirs = fit.their_fit(job)
    fitted = best(lambda: fit.their_fit(job))
    predicted = best(lambda: theirs.predict(job.grid, return_std=True))
    return [Ratio("assess, warm", best(lambda: assess(job.book)), fitted + predicted, 1.0)]


def cold() -> list[Ratio]:
    """Compare the report command with the reference script, both as fresh processes."""
    with TemporaryDirectory() as name:
        book = Path(name) / "house.json"
        book.write_text(write_book(house(STATIONS)), "utf-8")
        ours = [sys.executable, "-m", "levelbook", "report", str(book), "--out", name + "/out"]
        theirs = [sys.executable, str(HERE / "reference_script.py"), str(book), name + "/r.pdf"]
        times: dict[int, list[float]] = {0: [], 1: []}
        for _ in range(COLD_ROUNDS):  # in turn, so that both meet the same moods of the machine
            for i, command in enumerate((ours, theirs)):
                times[i].append(process_time(command))
    return [Ratio("report, cold", min(times[0]), min(times[1]), 2.0)]


def process_time(command: list[str]) -> float:
    """Return how long a process takes from start to end, milliseconds."""
    start = time.perf_counter()
    done = subprocess.run(command, capture_output=True, check=False)
    spent = 1e3 * (time.perf_counter() - start)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr.decode())
    return spent


def growth() -> list[Growth]:
    """Time every stage for growing houses."""
    return [stages(house(size), 5 if size < 300 else 3) for size in SIZES]


def stages(book: Book, rounds: int) -> Growth:
    """Time the stages of one assessment; what is left of the whole is words and findings."""
    levels = reduce(book)
    floor = shape_floor(book, levels)
    (area,) = book.areas
    found = floor.areas[area.id]
    if not isinstance(found, AreaShape):
        raise SystemExit(f"too few stations: {found}")
    fits = {area.id: found.surface}
    reduced = best(lambda: reduce(book), rounds)
    fitted = best(lambda: fit_surface(levels, book, area.id), rounds)
    drawn = best(lambda: make_grid(found.surface, area.outline, area.holes), rounds)
    shaped = best(lambda: shape_floor(book, levels), rounds)
    suspected = best(lambda: find_suspects(book, levels, fits), rounds)
    whole = best(lambda: assess(book), rounds)
    return Growth(
        stations=len(levels.ids),
        levels=reduced,
        surface=fitted,
        grid=drawn,
        shape=max(shaped - fitted - drawn - suspected, 0.0),
        suspects=suspected,
        words=max(whole - reduced - shaped, 0.0),
        whole=whole,
        bare=bare(len(levels.ids), int(np.isfinite(found.grid.mean).sum()), rounds),
    )


def bare(stations: int, nodes: int, rounds: int) -> float:
    """Return the time of the matrix work alone, milliseconds.

    ``EVALUATIONS`` factorisations with inverse of the covariance that the parameters are
    learnt from, one factor of all stations inverted, and one product of a grid's covariances
    with it. No covariance is evaluated and nothing else is done.
    """
    learnt, known = (np.eye(n) + 0.5 for n in (min(stations, MOST), stations))
    cross = np.ones((nodes, stations))

    def work() -> None:
        for _ in range(EVALUATIONS):
            dpotri(cholesky(learnt, lower=True, check_finite=False), lower=1)
        whiten = dtrtri(cholesky(known, lower=True, check_finite=False), lower=1)[0]
        np.matmul(cross, whiten.T)

    return best(work, rounds)


def ratio_table(rows: list[Ratio]) -> str:
    """Return comparisons as a table."""
    lines = [f"{'':22}{'ours ms':>10}{'reference':>11}{'ratio':>8}{'asked':>8}"]
    lines += [
        f"{r.name:22}{r.ours:10.0f}{r.theirs:11.0f}{r.ratio:8.1f}{r.asked:8.1f}" for r in rows
    ]
    return "\n".join(lines)


def growth_table(rows: list[Growth]) -> str:
    """Return the growth as a table: milliseconds, shares of the whole, distance from bare."""
    head = ("levels", "surface", "grid", "shape", "suspects", "words")
    lines = [
        f"{'stations':>9}{'whole ms':>10}"
        + "".join(f"{h:>10}" for h in head)
        + f"{'bare ms':>10}{'times':>7}"
    ]
    for row in rows:
        shares = "".join(f"{getattr(row, name) / row.whole:10.0%}" for name in head)
        lines.append(
            f"{row.stations:9}{row.whole:10.1f}{shares}{row.bare:10.1f}{row.whole / row.bare:7.1f}"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(ratio_table(warm() + cold()))
    print(growth_table(growth()))
