"""How long tables take to come in, and files to go out.

Run as ``python bench/exchange.py``. A table of 10,000 readings at 4,000 stations is read as CSV
and XLSX, with every cell checked and the book read by its own rules; it is asked to take less
than 2 s. The sizes around it show how the cost grows. Exports are of a house of 150 stations.
"""

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import io
import time
from collections.abc import Callable
from statistics import median

import numpy as np
import xlsxwriter

from levelbook.exchange.drawing_file import drawing_file
from levelbook.exchange.geojson import geojson
from levelbook.exchange.incoming import plan_import
from levelbook.exchange.package import package
from levelbook.exchange.pictures import picture, svg
from levelbook.exchange.survey_file import survey_file
from levelbook.exchange.workbook import workbook
from levelbook.findings import assess
from levelbook.floor.simulate import simulate_house

TITLES = ("station", "x (ft)", "y (ft)", "reading (in)", "finish", "note")
ANSWERS = {"date": "2026-03-02", "sense": "more", "sd": "0.05", "outline": "rectangle"}
ASKED, READINGS, MOST_STATIONS = 2.0, 10_000, 4_000

Row = tuple[str | float, ...]


def rows(count: int) -> list[Row]:
    """Return the rows of a made-up table: fractions, decimals and notes in turn."""
    made: list[Row] = []
    for i in range(count):
        k = i % MOST_STATIONS
        value = f"-{i % 3} {1 + i % 7}/8" if i % 4 == 0 else f"{(i % 41 - 20) / 10:.1f}"
        note = "by the door" if i % 9 == 0 else ""
        made.append((f"s{k}", k % 60, k // 60, value, "oak" if k % 3 else "tile", note))
    return made


def as_csv(count: int) -> bytes:
    """Return the table as CSV."""
    return "\n".join(",".join(map(str, row)) for row in (TITLES, *rows(count))).encode()


def as_xlsx(count: int) -> bytes:
    """Return the table as XLSX."""
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        page = book.add_worksheet()
        for i, row in enumerate((TITLES, *rows(count))):
            page.write_row(i, 0, row)
    return out.getvalue()


def seconds(call: Callable[[], object], times: int = 3) -> float:
    """Return the median processor time of a call, whatever else the machine does."""
    took = []
    for _ in range(times):
        begun = time.process_time()
        call()
        took.append(time.process_time() - begun)
    return median(took)


def taken(data: bytes, name: str, count: int) -> None:
    """Import a table, and see that all of it came in."""
    plan = plan_import(data, name, ANSWERS)
    assert plan.book is not None
    assert len(plan.book.readings) == count


def main() -> int:
    """Print the tables; return 1 where the import is slower than asked."""
    worst = 0.0
    print("In: seconds of one processor, median of 3")
    for count in (1_000, READINGS, 20_000):
        for name, make in (("table.csv", as_csv), ("table.xlsx", as_xlsx)):
            data = make(count)
            took = seconds(lambda d=data, n=name, c=count: taken(d, n, c))  # type: ignore[misc]
            worst = max(worst, took) if count == READINGS else worst
            print(f"  {count:6,} readings, {name.partition('.')[2]:5} {took:7.2f}")
    house = assess(simulate_house(np.random.default_rng(1), stations=150, plan="L").book)
    print("Out: 150 stations, milliseconds of one processor, median of 3")
    for each in (workbook, drawing_file, geojson, survey_file, svg, picture, package):
        print(f"  {each.__name__:14} {1000 * seconds(lambda e=each: e(house)):7.0f}")  # type: ignore[misc]
    return 0 if worst < ASKED else 1


if __name__ == "__main__":
    raise SystemExit(main())
