"""Small invented books with a known floor, in any units, for the tests of the findings."""

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from levelbook.book import Book, read_book
from levelbook.book.units import METRES

Height = Callable[[float, float], float]


def flat(x: float, y: float) -> float:
    """Return a level floor."""
    return 0.0


def plane(slope: float) -> Height:
    """Return a floor that rises along x by ``slope`` (rise over run), inches over feet."""
    return lambda x, y: 12.0 * slope * x


def dome(inches: float) -> Height:
    """Return a floor 36 ft by 24 ft whose walls lie ``inches`` below its middle, about."""
    return lambda x, y: -inches * (((x - 18) / 18) ** 2 + ((y - 12) / 12) ** 2) / 2


def small_book(
    height: Height = flat,
    *,
    level: str = "in",
    plan: str = "ft",
    across: int = 7,
    up: int = 5,
    size: tuple[float, float] = (36.0, 24.0),
    distress: Sequence[Mapping[str, Any]] = (),
    **parts: Mapping[str, Any],
) -> Book:
    """Return a book of one floor read on an even net, tile throughout.

    ``height`` is in inches over feet, and so are places and widths of ``distress``; all are
    written in the units asked for. ``property`` and ``visit`` may be given in part, and
    ``readings`` replaced by reading id.
    """
    rise, run = METRES["in"] / METRES[level], METRES["ft"] / METRES[plan]
    nodes = [
        (size[0] * i / (across - 1), size[1] * j / (up - 1))
        for j in range(up)
        for i in range(across)
    ]
    written = parts.get("readings", {})
    document = {
        "format": "levelbook/1",
        "units": {"level": level, "plan": plan},
        "property": {"label": "1 Example Row (invented)", **parts.get("property", {})},
        "visit": {"date": "2026-03-02", "purpose": "condition", **parts.get("visit", {})},
        "instruments": [
            {
                "id": "L",
                "kind": "hydrostatic",
                "higher_reads": "more",
                "resolution": 0.1 * rise,
                "sd": 0.05 * rise,
            }
        ],
        "areas": [
            {
                "id": "house",
                "kind": "living",
                "outline": [
                    [0, 0],
                    [size[0] * run, 0],
                    [size[0] * run, size[1] * run],
                    [0, size[1] * run],
                ],
            },
            *parts.get("areas", {}).values(),
        ],
        "finishes": [{"id": "tile", "name": "Tile"}],
        "setups": [{"id": "A", "instrument": "L"}],
        "stations": [
            {"id": f"s{k}", "at": [x * run, y * run], "area": "house"}
            for k, (x, y) in enumerate(nodes)
        ],
        "readings": [
            {
                "id": f"r{k}",
                "setup": "A",
                "station": f"s{k}",
                "finish": "tile",
                "value": f"{height(x, y) * rise:.6f}",
                **written.get(f"r{k}", {}),
            }
            for k, (x, y) in enumerate(nodes)
        ],
        "reference": {"station": "s0"},
        "distress": [_distress(d, rise, run) for d in distress],
    }
    return read_book(json.dumps(document))


def _distress(entry: Mapping[str, Any], rise: float, run: float) -> dict[str, Any]:
    scaled = {"kind": "crack", "element": "drywall", **entry}
    if "at" in scaled:
        scaled["at"] = [c * run for c in scaled["at"]]
    if "line" in scaled:
        scaled["line"] = [[c * run for c in point] for point in scaled["line"]]
    if rise != 1.0 and "width" in scaled:
        scaled["width"] = f"{float(scaled['width']) * rise:.6f}"
    return scaled
