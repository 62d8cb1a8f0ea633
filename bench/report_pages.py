"""Time of drawing the report's pages against matplotlib drawing the same pages to PDF.

Run as ``python bench/report_pages.py``. Both get finished results of simulated houses of 150
stations and draw: a first page with the plan, the plan, its standard error and its deflection
over a page each with contours, labels and every station's level, profiles, the criteria, all
readings as a table, the method and the cautions. Ours sets more pages than that, tagged and with
its record attached, and is timed on houses that it has not set before, so that nothing of an
earlier report can be reused; both are warm (they have drawn another house before).
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import io
import json
import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from typing import Any

import numpy as np

import reference_script
from levelbook.book import write_book
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.floor.simulate import simulate_house
from levelbook.report import build
from levelbook.report.drawings import draw
from levelbook.report.labels import load_labels
from levelbook.report.sections.source import Source

STATIONS, HOUSES, ASKED = 150, 7, 5.0


@dataclass(frozen=True)
class Job:
    """One house: our results of it, its document and the reference's results of it."""

    assessment: Assessment
    document: dict[str, Any]
    surfaces: list[reference_script.Surface]


def make_job(seed: int, stations: int = STATIONS) -> Job:
    """Simulate a house and work out what both draw."""
    rng = np.random.default_rng(seed)
    book = simulate_house(rng, kind="process", stations=stations, plan="L").book
    document = json.loads(write_book(book))
    return Job(assess(book), document, reference_script.surfaces_of(document))


def ours(job: Job) -> bytes:
    """Draw and set our report."""
    return build(job.assessment, formats=("pdf",)).parts[".pdf"]


def theirs(job: Job) -> bytes:
    """Draw the reference's pages."""
    target = io.BytesIO()
    reference_script.draw(target, job.document, job.surfaces)
    return target.getvalue()


def timed(call: Callable[[], bytes]) -> tuple[float, bytes]:
    """Return how long one call takes in seconds, and what it returns."""
    start = time.perf_counter()
    result = call()
    return time.perf_counter() - start, result


def pages(pdf: bytes) -> int:
    """Return how many pages a PDF has, by its page tree."""
    return max(int(n) for n in re.findall(rb"/Count (\d+)", pdf))


def drawings(job: Job) -> bytes:
    """Make our drawings alone."""
    return str(draw(Source(job.assessment, load_labels(), {}), screen=False).svg).encode()


def main() -> int:
    """Print the table; return 1 where we are not as fast as asked."""
    jobs = [make_job(seed) for seed in range(1, HOUSES + 2)]
    cold, paper = timed(lambda: ours(jobs[0]))
    other = theirs(jobs[0])
    times = [(timed(lambda j=j: theirs(j))[0], timed(lambda j=j: ours(j))[0]) for j in jobs[1:]]
    matplotlib, levelbook = (median(column) for column in zip(*times, strict=True))
    drawing = median(timed(lambda j=j: drawings(j))[0] for j in jobs[1:])
    again = min(timed(lambda: ours(jobs[1]))[0] for _ in range(3))
    ratio = matplotlib / levelbook
    rows = (
        (f"matplotlib, {pages(other)} pages", matplotlib, ""),
        (f"ours, {pages(paper)} pages", levelbook, f"   {ratio:.1f} times faster"),
        ("  of which drawing", drawing, ""),
        ("  and setting the PDF", levelbook - drawing, ""),
        ("ours, the same house again", again, ""),
        ("ours, first in the process", cold, ""),
    )
    print(f"{STATIONS} stations, median of {HOUSES} houses, warm")
    for name, seconds, remark in rows:
        print(f"  {name:28} {1000 * seconds:7.0f} ms{remark}")
    return 0 if ratio >= ASKED else 1


if __name__ == "__main__":
    raise SystemExit(main())
