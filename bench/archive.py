"""Figures over a simulated archive: speed by who works, memory, killed and resumed.

Run as ``python bench/archive.py [visits]`` (20000 for the full size). The visits go into a
SQLite store as devices send them. Each way of working is a process of its own, started on the
same store: one process, two processes, a Dask cluster of two workers on this machine. The
processor time is of all its processes, from start to end. The cluster's scheduler is in the
commanding process and set up as docs/archive-figures.md advises. Memory is the peak of the
commanding process, at a tenth of the visits and at the end: it is flat if the two are alike.
Then a run with two processes is killed (SIGKILL) and given again.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import json
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import sqlalchemy as sa
from pyarrow import parquet

from levelbook.archive.clock import Clock
from levelbook.archive.database import Database, file_url
from levelbook.archive.document import to_entries
from levelbook.archive.entries import write_entry
from levelbook.archive.evaluation.cluster import Cluster
from levelbook.archive.evaluation.columns import Criteria
from levelbook.archive.evaluation.crew import Alone, Crew, Processes
from levelbook.archive.evaluation.plan import size_for
from levelbook.archive.evaluation.run import run
from levelbook.archive.evaluation.simulate import simulate_archive
from levelbook.archive.evaluation.source import DatabaseSource
from levelbook.archive.migrating import migrate
from levelbook.archive.tables import ENTRIES, LOCAL, VISITS
from levelbook.book import Book, write_book

WAYS = ("one process", "two processes", "Dask, two workers")
WHEN = "2027-01-15T08:00:00Z"
BATCH = 100


def fill(file: Path, visits: int) -> None:
    """Put simulated visits into a new store."""
    database = Database(file_url(file))
    migrate(database)
    entries: list[dict[str, str]] = []
    rows: list[dict[str, str]] = []
    for k, book in enumerate(simulate_archive(visits)):
        visit = f"visit-{k * 7919 % visits:06}"
        rows.append({"firm": LOCAL, "id": visit, "date": book.visit.date, "updated": WHEN})
        entries += bodies(book, visit)
        if len(rows) == BATCH or k == visits - 1:
            with database.use(LOCAL) as connection:
                connection.execute(sa.insert(ENTRIES), entries)
                connection.execute(sa.insert(VISITS), rows)
            entries, rows = [], []
    database.close()


def bodies(book: Book, visit: str) -> Iterator[dict[str, str]]:
    """Yield the rows of a book's entries."""
    numbers = count()
    new = (lambda: f"{visit}-{next(numbers):06}", 1_800_000_000_000, WHEN)
    document = json.loads(write_book(book))
    for entry in to_entries(document, visit, "A", Clock(0, 0, "device01"), new):
        body = json.dumps(write_entry(entry))
        yield {"firm": LOCAL, "id": entry.id, "visit": visit, "body": body, "received": WHEN}


def peak() -> float:
    """Return the largest memory that this process had so far, MB."""
    size = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return size / (1e6 if sys.platform == "darwin" else 1e3)


def cpu() -> float:
    """Return the seconds of processor that this process and its workers took."""
    used = (resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(each.ru_utime + each.ru_stime for each in used)


@contextmanager
def crew_of(way: str) -> Iterator[Crew]:
    """Give who works."""
    if way == WAYS[0]:
        yield Alone()
    elif way == WAYS[1]:
        yield Processes(2)
    else:
        import dask.config
        from distributed import LocalCluster

        with (
            dask.config.set({"distributed.admin.low-level-log-length": 10}),
            LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as local,
        ):
            crew = Cluster(local.scheduler_address)
            yield crew
            crew.close()


def work(way: str, file: Path, out: Path, size: int) -> None:
    """Evaluate a store in one way and print what it took."""
    database, seen, early = Database(file_url(file)), 0, 0.0
    source = DatabaseSource(database, LOCAL)
    mark = source.count() // 10

    def progress(visits: int) -> None:
        nonlocal seen, early
        seen += visits
        if not early and seen >= mark:
            early = peak()

    with crew_of(way) as crew:
        start = time.perf_counter()
        done = run(source, Criteria(), out, crew, progress=progress, size=size)
        spent = time.perf_counter() - start
    largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
    told = {"visits": done.visits, "rows": done.rows, "kept": done.kept, "parts": done.parts}
    told |= {"seconds": spent, "early": early, "end": peak(), "worker": largest, "cpu": cpu()}
    print(json.dumps(told))


def command(way: str, file: Path, out: Path, size: int) -> list[str]:
    """Return the command that evaluates a store in one way."""
    return [sys.executable, __file__, "--work", way, str(file), str(out), str(size)]


def timed(way: str, file: Path, out: Path, size: int) -> dict[str, Any]:
    """Evaluate in a process of its own and return what it told."""
    done = subprocess.run(
        command(way, file, out, size), capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise SystemExit(done.stderr)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def killed(file: Path, out: Path, size: int, parts: int) -> tuple[int, dict[str, Any]]:
    """Kill a run at about a third, give it again; how many parts were done, and what it told."""
    receipts = out / "receipts"
    silent = subprocess.DEVNULL
    broken_off = command(WAYS[1], file, out, size)
    with subprocess.Popen(broken_off, stdout=silent, stderr=silent) as process:
        while len(list(receipts.glob("*.json"))) < max(1, parts // 3) and process.poll() is None:
            time.sleep(0.02)
        process.send_signal(signal.SIGKILL)
    return len(list(receipts.glob("*.json"))), timed(WAYS[1], file, out, size)


def same(one: Path, other: Path) -> bool:
    """Tell whether two evaluations have the same rows, each visit once."""
    tables = [parquet.read_table(out / "parts").sort_by("visit") for out in (one, other)]
    names = tables[0]["visit"].to_pylist()
    return len(set(names)) == len(names) and bool(tables[0].equals(tables[1]))


def main(visits: int = 1_000) -> bool:
    """Print the table; whether all ways agree, memory is flat and nothing was lost or doubled."""
    size = size_for(visits)
    with TemporaryDirectory() as name:
        file = Path(name) / "levelbook.sqlite"
        start = time.perf_counter()
        fill(file, visits)
        print(f"{visits} simulated visits, {file.stat().st_size / 1e6:.0f} MB of store, ", end="")
        print(f"made in {time.perf_counter() - start:.0f} s; chunks of about {size}")
        load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
        print(f"load of the machine before: {load:.1f} on {os.cpu_count()} processors")
        outs = [Path(name) / f"out{k}" for k in range(4)]
        found = [timed(way, file, out, size) for way, out in zip(WAYS, outs, strict=False)]
        print(table(found))
        before, again = killed(file, outs[3], size, found[0]["parts"])
        alike = [same(outs[0], out) for out in outs[1:]]
        print(f"rows alike in all ways: {all(alike[:2])}")
        print(
            f"killed after {before} of {found[0]['parts']} parts, given again: "
            f"{again['kept']} visits kept, {again['rows']} rows, alike: {alike[2]}"
        )
        whole = all(each["rows"] == visits for each in (*found, again))
        flat = all(each["end"] < 1.15 * each["early"] + 30 for each in found)
        print(f"every visit has its row, once: {whole}; memory flat: {flat}")
    return all(alike) and whole and flat and 0 < again["kept"] < visits


def table(found: list[dict[str, Any]]) -> str:
    """Return speed and memory of every way as a table."""
    lines = [
        f"{'':18}{'visits/s':>10}{'ratio':>7}{'CPU ms a visit':>16}{'MB at 1/10':>12}"
        f"{'MB at end':>11}{'MB a worker':>13}"
    ]
    first = found[0]["seconds"]
    for way, each in zip(WAYS, found, strict=True):
        worker = f"{each['worker']:13.0f}" if way == WAYS[1] else f"{'–':>13}"
        used = 1e3 * each["cpu"] / each["visits"]
        lines.append(
            f"{way:18}{each['visits'] / each['seconds']:10.1f}{first / each['seconds']:7.2f}"
            f"{used:16.0f}{each['early']:12.0f}{each['end']:11.0f}{worker}"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--work"]:
        work(sys.argv[2], Path(sys.argv[3]), Path(sys.argv[4]), int(sys.argv[5]))
    else:
        sys.exit(0 if main(*map(int, sys.argv[1:])) else 1)
