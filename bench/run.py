"""Everything that is measured, side by side with references in one run.

Run as ``make bench`` or ``python bench/run.py [houses]``. Prints tables, and writes them to
``out/bench.json`` and ``docs/benchmarks.md``. All speeds are ratios to a reference in the same
run; the times themselves belong to the machine described above them.
"""

import json
import os
import platform
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path

import whole

ROOT = Path(__file__).resolve().parent.parent
JSON, PAGE = ROOT / "out" / "bench.json", ROOT / "docs" / "benchmarks.md"
LIBRARIES = ("numpy", "scipy", "scikit-learn", "matplotlib", "typst", "shapely")


@dataclass(frozen=True)
class Part:
    """One script of this folder: what it shows, and what it is asked for."""

    script: str
    title: str
    asked: str
    houses: bool = False


PARTS = (
    Part(
        "fit.py",
        "The fitted surface beside scikit-learn",
        "Fit and prediction with standard errors together at least 3 times faster.",
    ),
    Part(
        "report_pages.py",
        "The report's pages beside matplotlib",
        "Drawing and PDF, warm, at least 5 times faster.",
    ),
    Part(
        "water.py",
        "Where water goes on a garage floor",
        "Cost no faster than cells·log(cells) up to a million cells; filling beside scikit-image.",
    ),
    Part(
        "exchange.py",
        "Tables in, files out",
        "10,000 readings in under 2 s.",
    ),
    Part(
        "archive.py",
        "Figures over an archive",
        "The same rows in one process, in two and on a Dask cluster; memory flat; killed and "
        "given again without loss or double. 1,000 visits here; `python bench/archive.py 20000` "
        "for the full size.",
    ),
    Part(
        "search.py",
        "A page of the list among 100,000 visits",
        "Every median under 100 ms, in SQLite and in PostgreSQL.",
    ),
    Part(
        "in_browser.py",
        "A reading's effect on the screen at 150 stations",
        "Renewed within 150 ms in the middle and 300 ms at the 95th percentile.",
    ),
    Part(
        "page_ready.py",
        "The pages on a slow network with nothing kept",
        "Ready in under 1.5 s on slow 4G, under 350 kB of script gzipped.",
    ),
    Part(
        "taps.py",
        "Taps and keys of a reading beside a plain form",
        "At most 4 for each reading.",
    ),
    Part(
        "coverage.py",
        "Do 95 % intervals hold the truth?",
        "92 to 98 % of intervals over simulated houses of every kind of floor.",
        houses=True,
    ),
    Part(
        "extremes.py",
        "Do the extremes hold the truth?",
        "92 to 98 % of intervals of walls, worst chord and steepest slope.",
        houses=True,
    ),
    Part(
        "suspects.py",
        "Are slips found?",
        "Decimal slips of readings of 0.2 in or more at least 99 %, sign slips of 0.4 in or more "
        "at least 85 %, at most 0.5 % of sound readings flagged.",
        houses=True,
    ),
    Part(
        "movement.py",
        "Does the comparison of two visits err?",
        "Nothing moved: the global test rejects 3 to 7 %. A corner gone down 0.5 in: found at "
        "least 95 %, the named stations right (Jaccard 0.8), 92 to 98 % of intervals hold. 150 "
        "stations under 100 ms, 10 visits of 400 under 2 s.",
        houses=True,
    ),
    Part(
        "load.py",
        "Two hundred devices at one server",
        "No error, nothing lost, 95 of 100 answers within 500 ms; memory flat over 30 minutes "
        "(here over one: `python bench/load.py 30` looks longer).",
    ),
)


def machine() -> str:
    """Return what this was run on, without saying whose machine it is."""
    parts = [f"{platform.system()} on {platform.machine()}", f"{os.cpu_count()} processors"]
    parts.append(f"Python {platform.python_version()}")
    parts += [f"{name} {version(name)}" for name in LIBRARIES]
    busy = f"{os.getloadavg()[0]:.1f} processes waiting or running at the start"
    return ", ".join(parts) + f"; linear algebra on one thread; {busy}"


def run(part: Part, houses: int) -> str:
    """Run one script and return what it printed."""
    command = [sys.executable, str(ROOT / "bench" / part.script)]
    command += [str(houses)] if part.houses else []
    paths = os.environ | {"PYTHONPATH": str(ROOT / "tools")}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=paths)
    if done.returncode not in (0, 1) or not done.stdout.strip():
        raise SystemExit(f"{part.script} failed:\n{done.stderr}")
    return done.stdout.strip()


def main(houses: int = 500) -> None:
    """Measure everything, print it, and keep it."""
    begun = time.perf_counter()
    told: dict[str, object] = {"machine": machine(), "houses": houses}
    page = [HEAD.format(machine=machine(), houses=houses)]

    def show(title: str, asked: str, table: str) -> None:
        print(f"\n{title}\n{asked}\n\n{table}", flush=True)
        page.append(f"## {title}\n\n{asked}\n\n```\n{table}\n```\n")

    ratios = whole.warm() + whole.cold()
    told["ratios"] = [ratio.row for ratio in ratios]
    show("The whole job", WHOLE, whole.ratio_table(ratios))
    rows = whole.growth()
    told["growth"] = [asdict(row) for row in rows]
    show("Growth with the number of stations", GROWTH, whole.growth_table(rows))
    for part in PARTS:
        told[part.script] = run(part, houses)
        show(part.title, part.asked, str(told[part.script]))
    JSON.parent.mkdir(exist_ok=True)
    JSON.write_text(json.dumps(told, indent=1) + "\n", "utf-8")
    PAGE.write_text("\n".join(page), "utf-8")
    print(f"\n{time.perf_counter() - begun:.0f} s; kept in {JSON} and {PAGE}")


HEAD = """# Benchmarks

Written by `make bench`. Speeds are ratios to a reference in the same run, on the same house of
150 stations; times belong to this machine: {machine}.
Coverage and slips are counted over {houses} simulated houses with fixed seeds.
"""
WHOLE = (
    "`assess`, warm, beside scikit-learn's fit and prediction alone; `levelbook report` beside a "
    "plain script (`bench/reference_script.py`) that fits with scikit-learn and draws the same "
    "kind of pages with matplotlib, both as fresh processes."
)
GROWTH = (
    "The whole of `assess` with each stage's share of it, and its distance from the bare cost of "
    f"linear algebra: {whole.EVALUATIONS} factorisations with inverse of the covariance that is "
    f"learnt from (at most {whole.MOST} stations), one factor of all stations inverted, and one "
    "product of the drawing grid's covariances with it."
)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
