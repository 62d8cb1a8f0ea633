"""Books, assessments and finished reports that the tests of the report share."""

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

from levelbook.book import read_book
from levelbook.findings import assess
from levelbook.findings.model import Assessment
from levelbook.report import Report, build

Document = dict[str, Any]


def invented(count: int, *, units: tuple[str, str] = ("in", "ft")) -> Document:
    """Return a document of an oblong house with about ``count`` stations and a gentle dome."""
    across = max(2, round(math.sqrt(count * 1.5)))
    along = max(2, round(count / across))
    scale = 1.0 if units[1] == "ft" else 0.3048
    rise = 1.0 if units[0] == "in" else 25.4
    wide, deep = 6.0 * across * scale, 6.0 * along * scale
    stations, readings = [], []
    for i in range(across):
        for j in range(along):
            x, y = (i + 0.5) * wide / across, (j + 0.5) * deep / along
            name = f"s{len(stations) + 1}"
            bend = 0.6 * math.sin(math.pi * x / wide) * math.sin(math.pi * y / deep)
            value = rise * (bend + 0.3 * x / wide + 0.05 * math.sin(7 * x + 3 * y))
            stations.append({"id": name, "at": [round(x, 2), round(y, 2)], "area": "house"})
            readings.append(_reading(len(readings), name, "oak" if i % 2 else "tile", value))
    for name in ("s1", f"s{len(stations)}"):
        for finish in ("tile", "oak"):
            readings.append(_reading(len(readings), name, finish, 0.1 * rise))
    return {
        "format": "levelbook/1",
        "units": {"level": units[0], "plan": units[1]},
        "property": {"label": "3 Invented Row", "foundation": "slab-on-ground"},
        "visit": {"date": "2026-04-01", "purpose": "condition", "surveyor": "N. Obody"},
        "instruments": [
            {"id": "L1", "kind": "hydrostatic", "higher_reads": "more",
             "resolution": 0.1 if units[0] == "in" else 1, "sd": 0.05 * rise}
        ],
        "areas": [
            {"id": "house", "kind": "living",
             "outline": [[0, 0], [wide, 0], [wide, deep], [0, deep]]}
        ],
        "finishes": [{"id": "tile", "name": "Tile"}, {"id": "oak", "name": "Oak"}],
        "setups": [{"id": "A", "instrument": "L1"}],
        "stations": stations,
        "readings": readings,
        "reference": {"station": "s1", "finish": "tile"},
    }  # fmt: skip


def _reading(n: int, station: str, finish: str, value: float) -> Document:
    told = f"{value:.1f}"
    return {"id": f"r{n + 1}", "setup": "A", "station": station, "finish": finish, "value": told}


def assessed(document: Document) -> Assessment:
    """Return everything computed from a document."""
    return assess(read_book(json.dumps(document).encode()))


@pytest.fixture(scope="session")
def invent() -> Callable[..., Document]:
    """Return the maker of invented houses."""
    return invented


@pytest.fixture(scope="session")
def judge() -> Callable[[Document], Assessment]:
    """Return the function from a document to its assessment."""
    return assessed


@pytest.fixture(scope="session")
def sample(house_a: bytes) -> Assessment:
    """Return the assessment of the sample house."""
    return assess(read_book(house_a))


@pytest.fixture(scope="session")
def report(sample: Assessment) -> Report:
    """Return the whole report of the sample house."""
    return build(sample)


@pytest.fixture(scope="session")
def demo() -> Assessment:
    """Return the assessment of the demo house: struck readings, a slip, distress, a garage."""
    from importlib.resources import files

    return assess(read_book((files("levelbook.demo") / "house.json").read_bytes()))


@pytest.fixture(scope="session")
def demo_report(demo: Assessment) -> Report:
    """Return the whole report of the demo house."""
    return build(demo)
