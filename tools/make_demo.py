"""Write the demo house's level book from an invented floor, with a fixed seed.

The house, its floor and everyone in it are invented. The file is written once and kept in
the package (``src/levelbook/demo/house.json``); a test keeps it equal to what this script
writes.
"""

import json
import math
import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

TARGET = Path(__file__).resolve().parent.parent / "src" / "levelbook" / "demo" / "house.json"
SEED = 20260514
START = datetime.fromisoformat("2026-05-14T09:05:00")
SD, RESOLUTION = 0.05, 0.1
UNEVENNESS = 0.03
LIVING = [(0, 0), (28, 0), (28, 20), (52, 20), (52, 46), (0, 46)]
GARAGE = [(28.5, 0), (51.5, 0), (51.5, 19.5), (28.5, 19.5)]
HEIGHT = {"tile": 0.0, "oak": 0.38, "carpet": 0.56, "concrete": 0.0}
CONSTANT = {"A": 0.02, "B": 1.37, "G": 0.0}
DRIFT = {"A": 0.09, "B": 0.0, "G": 0.0}

# What is underfoot: the first room that holds a place decides, tile elsewhere.
ROOMS = [
    ("carpet", (0, 0, 14, 13)),
    ("carpet", (0, 30, 15, 46)),
    ("carpet", (38, 32, 52, 46)),
    ("oak", (15, 26, 38, 46)),
    ("oak", (14, 0, 28, 13)),
]
# Where the stations stand, "x,y" in ft, in order of their numbers.
PLACES = {
    "front wing": (
        "0.5,0.5 7,0.5 13.5,0.5 20,0.5 27.5,0.5 0.5,6.5 7,6.5 14.5,6.5 21,6.5 27.5,6.5 "
        "0.5,12.5 7,12.5 20.5,12.5 27.5,12.5 0.5,19 7,19 14,19 21,19 27.5,19 11,9.5 24.5,9.5"
    ),
    "rear block": (
        "0.5,25.5 7,25 14,25 21,24.5 33,20.5 39.5,20.5 45.5,20.5 51.5,20.5 32,26.5 39,26 "
        "45.5,26 51.5,26.5 0.5,32 7,32 16,32 22,32 30,32 37,32 45,33 51.5,33 0.5,39 7.5,39 "
        "16,39 23,39 30,39 37,39 45,39.5 51.5,39.5 0.5,45.5 7,45.5 14,45.5 20,45.5 26,45.5 "
        "32,45.5 37.5,45.5 44.5,45.5 51.5,45.5 18.5,28.5 34.5,29 48,42.5"
    ),
    "garage": ("29,19 36,19 44,19 51,19 29,10 36.5,10 44,10 51,10 29,0.5 36.5,0.5 44,0.5 51,0.5"),
}
# Doorways where both coverings were read: (station, place, finish, finish).
PAIRS = [
    ("p1", (14, 29), "tile", "oak"),
    ("p2", (29, 26), "tile", "oak"),
    ("p3", (14, 15), "tile", "oak"),
    ("p4", (9, 30), "tile", "carpet"),
    ("p5", (42, 32), "tile", "carpet"),
    ("p6", (10, 13), "tile", "carpet"),
]
CENTRE = (26.0, 25.0)
WING_TIES, REAR_TIES = ["17", "19"], ["22"]
B_ZERO = "17"
SLIPPED, RUG = "53", "12"
MOVED = {"7": "bed", "41": "wardrobe"}


def places(part: str) -> list[tuple[float, float]]:
    """Return where the stations of one part stand (ft)."""
    return [(float(x), float(y)) for x, y in (at.split(",") for at in PLACES[part].split())]


def floor(x: float, y: float) -> float:
    """Return the invented floor's height (in): a corner gone down, a faint crown, a lean."""
    corner = -1.25 * math.exp(-(((52 - x) ** 2 + (46 - y) ** 2) / 17.0**2))
    crown = -0.22 * (((x - 25) / 26) ** 2 + ((y - 24) / 23) ** 2) / 2
    lean = -0.10 * (y - 24) / 23
    waves = 0.06 * math.sin(x / 6.5 + 1.0) * math.cos(y / 7.5)
    return corner + crown + lean + waves


def garage(_x: float, y: float) -> float:
    """Return the garage floor's height (in), falling toward the vehicle door at y = 0."""
    return -1.35 * (19 - y) / 18.5 + 0.12 * math.sin(y / 3)


def underfoot(x: float, y: float) -> str:
    """Return the finish at a place in the house."""
    for finish, (left, low, right, high) in ROOMS:
        if left <= x <= right and low <= y <= high:
            return finish
    return "tile"


@dataclass
class Visit:
    """The walk through the house: stations placed and readings written in order of time."""

    chance: random.Random
    clock: datetime = START
    stations: list[dict[str, Any]] = field(default_factory=list)
    readings: list[dict[str, Any]] = field(default_factory=list)
    height: dict[str, float] = field(default_factory=dict)
    finish: dict[str, str] = field(default_factory=dict)
    began: dict[str, datetime] = field(default_factory=dict)

    def place(self, name: str, at: tuple[float, float], area: str) -> None:
        """Put a station down and give it its true height, unevenness included."""
        shape = garage if area == "garage" else floor
        self.stations.append({"id": name, "at": list(at), "area": area})
        self.height[name] = shape(*at) + self.chance.gauss(0, UNEVENNESS)
        self.finish[name] = "concrete" if area == "garage" else underfoot(*at)

    def read(self, setup: str, station: str, finish: str | None = None) -> dict[str, Any]:
        """Read one station as the instrument would: drift, error, rounding."""
        finish = finish or self.finish[station]
        hours = (self.clock - self.began.setdefault(setup, self.clock)).total_seconds() / 3600
        true = self.height[station] + HEIGHT[finish] + CONSTANT[setup] + DRIFT[setup] * hours
        seen = round((true + self.chance.gauss(0, SD)) / RESOLUTION) * RESOLUTION
        entry = {
            "id": f"r{len(self.readings) + 1}",
            "setup": setup,
            "station": station,
            "finish": finish,
            "value": f"{seen + 0.0:.1f}".replace("-0.0", "0.0"),
            "time": self.clock.isoformat(),
        }
        self.readings.append(entry)
        self.clock += timedelta(seconds=self.chance.choice([35, 40, 45, 55, 70]))
        return entry

    def walk(self, setup: str, stations: Iterable[str], zero: str) -> None:
        """Read the zero, the stations, and the zero again at half way and at the end."""
        names = [name for name in stations if name != zero]
        self.read(setup, zero)
        for i, name in enumerate(names):
            self.read(setup, name)
            if i == len(names) // 2:
                self.read(setup, zero)
        self.read(setup, zero)


def survey() -> Visit:
    """Walk the house: rear block from the hall, front wing from the entry, then the garage."""
    visit = Visit(random.Random(SEED))
    visit.place("c", CENTRE, "house")
    number = 0
    for group in ("front wing", "rear block"):
        for at in places(group):
            number += 1
            visit.place(str(number), at, "house")
    for name, at, first, _ in PAIRS:
        visit.place(name, at, "house")
        visit.finish[name] = first
    for i, at in enumerate(places("garage"), start=1):
        visit.place(f"g{i}", at, "garage")
    wing = [str(i) for i in range(1, len(places("front wing")) + 1)]
    rear = [s["id"] for s in visit.stations if s["id"].isdigit() and s["id"] not in wing]
    visit.walk("A", [*rear, *WING_TIES, "p1", "p2", "p4", "p5"], "c")
    read_pairs(visit, "A", ["p1", "p2", "p4", "p5"])
    visit.read("A", "c")
    visit.clock += timedelta(minutes=6)
    visit.walk("B", [*wing, *REAR_TIES, "p1", "p3", "p6"], B_ZERO)
    read_pairs(visit, "B", ["p3", "p6"])
    visit.read("B", B_ZERO)
    visit.clock += timedelta(minutes=9)
    visit.walk("G", [s["id"] for s in visit.stations if s["area"] == "garage"], "g1")
    return visit


def read_pairs(visit: Visit, setup: str, names: list[str]) -> None:
    """Read the second covering at each doorway."""
    for name, _, _, second in PAIRS:
        if name in names:
            visit.read(setup, name, second)


def spoil(visit: Visit) -> None:
    """Make the mistakes of a real day: a slipped point, a struck reading, two moved stations."""
    by_station = {(r["setup"], r["station"]): r for r in reversed(visit.readings)}
    slip = by_station["A", SLIPPED]
    slip["value"] = f"{float(slip['value']) * 10:.0f}"
    right = by_station["B", RUG]
    wrong = dict(right, id=f"{right['id']}x", value=f"{float(right['value']) + 0.6:.1f}")
    wrong |= {"struck": True, "instead": right["id"], "note": "sensor stood on the rug"}
    visit.readings.insert(visit.readings.index(right), wrong)
    for station in visit.stations:
        if station["id"] in MOVED:
            station["moved"] = MOVED[station["id"]]


def setting() -> dict[str, Any]:
    """Return what stands in the book before the first reading."""
    return {
        "format": "levelbook/1",
        "units": {"level": "in", "plan": "ft"},
        "property": {
            "label": "7 Saltgrass Court (invented)",
            "address": "7 Saltgrass Court, Marl Creek",
            "foundation": "slab-on-ground",
            "post_tensioned": True,
            "year_built": 1998,
            "north": 12,
            "notes": "One storey, brick veneer. A large oak stands off the rear right corner.",
        },
        "visit": {
            "date": "2026-05-14",
            "purpose": "condition",
            "surveyor": "E. Xample",
            "licence": "demo only",
            "firm": "Marl Creek House Inspection (invented)",
            "weather": "dry, 27 C, no rain for three weeks",
            "notes": "Furnished house; stations 7 and 41 stand clear of furniture.",
        },
        "instruments": [
            {
                "id": "L1",
                "kind": "hydrostatic",
                "higher_reads": "more",
                "resolution": RESOLUTION,
                "sd": SD,
                "reach": 65,
                "serial": "demo-1",
                "checks": [
                    {"date": "2026-05-14", "known": "6.0", "read": "6.0"},
                    {"date": "2026-05-14", "known": "-3.0", "read": "-3.0"},
                ],
            }
        ],
        "areas": [
            {"id": "house", "kind": "living", "outline": LIVING},
            {
                "id": "garage",
                "kind": "garage",
                "outline": GARAGE,
                "vehicle_door": [[32, 0], [48, 0]],
            },
        ],
        "walls": [
            [[14, 0], [14, 13]],
            [[0, 13], [11, 13]],
            [[17, 13], [28, 13]],
            [[0, 30], [7, 30]],
            [[11, 30], [15, 30], [15, 46]],
            [[38, 46], [38, 32], [40, 32]],
            [[44, 32], [52, 32]],
            [[38, 20], [38, 26]],
        ],
        "marks": [
            {"kind": "front-door", "at": [28, 16.5], "label": "front door"},
            {"kind": "door", "at": [34, 20], "label": "door to garage"},
            {"kind": "water-heater", "at": [50, 18]},
            {"kind": "tree", "at": [58, 51], "label": "oak"},
            {"kind": "downspout", "at": [52, 46]},
            {"kind": "downspout", "at": [0, 0]},
        ],
        "finishes": [
            {"id": "tile", "name": "Ceramic tile"},
            {"id": "oak", "name": "Oak boards"},
            {"id": "carpet", "name": "Carpet and pad"},
            {"id": "concrete", "name": "Bare concrete"},
        ],
        "setups": [
            {"id": "A", "instrument": "L1", "base": [26, 25]},
            {"id": "B", "instrument": "L1", "base": [15, 17]},
            {"id": "G", "instrument": "L1", "base": [29, 19]},
        ],
    }


def ending() -> dict[str, Any]:
    """Return what stands in the book after the last reading."""
    return {
        "sections": [
            {"id": "rear wall", "line": [[0.5, 45.5], [51.5, 45.5]]},
            {"id": "right wall", "line": [[51.5, 20.5], [51.5, 45.5]]},
            {"id": "corner to corner", "line": [[14, 20], [51.5, 45.5]]},
        ],
        "reference": {"station": "c", "finish": "tile"},
        "distress": [
            {
                "id": "d1",
                "kind": "crack",
                "element": "brick-veneer",
                "line": [[52, 38], [52, 42]],
                "width": "3/16",
                "side": "outside",
                "age": "fresh",
                "note": "stepped through the joints, wider at the top",
            },
            {
                "id": "d2",
                "kind": "crack",
                "element": "drywall",
                "at": [44, 32],
                "width": "1/16",
                "side": "inside",
                "age": "fresh",
                "note": "diagonal from the head of the bedroom door",
            },
            {
                "id": "d3",
                "kind": "door-binding",
                "element": "trim",
                "at": [42, 32],
                "side": "inside",
                "age": "unknown",
                "note": "binds at the latch side",
            },
            {
                "id": "d4",
                "kind": "separation",
                "element": "exterior-grade-beam",
                "at": [46, 46],
                "width": "1/4",
                "side": "outside",
                "age": "repaired",
                "note": "caulked before, open again beside the caulk",
            },
            {
                "id": "d5",
                "kind": "crack",
                "element": "tile",
                "at": [20, 18],
                "width": "1/64",
                "side": "inside",
                "age": "old",
            },
        ],
    }


def ground() -> dict[str, Any]:
    """Return the pairs of readings outside: by the corner gone down, behind, on the front walk."""
    read = [
        ("right side", [52, 32], [62, 32], "-8.6", "-7.1", "soil"),
        ("rear", [20, 46], [20, 56], "-7.2", "-14.4", "soil"),
        ("front walk", [22, 0], [22, -6], "-6.3", "-8.7", "paved"),
    ]
    keys = ("id", "at", "out", "near", "far", "surface")
    return {"grades": [dict(zip(keys, each, strict=True)) | {"setup": "A"} for each in read]}


def book() -> dict[str, Any]:
    """Return the whole level book."""
    visit = survey()
    spoil(visit)
    return (
        setting() | {"stations": visit.stations, "readings": visit.readings} | ending() | ground()
    )


def text() -> str:
    """Return the book as it is kept: one entry of a list a line."""
    parts = []
    for key, value in book().items():
        if isinstance(value, list):
            entries = ",\n".join(f"  {json.dumps(entry, ensure_ascii=False)}" for entry in value)
            parts.append(f' "{key}": [\n{entries}\n ]')
        else:
            parts.append(f' "{key}": {json.dumps(value, ensure_ascii=False)}')
    return "{\n" + ",\n".join(parts) + "\n}\n"


if __name__ == "__main__":
    TARGET.write_text(text(), encoding="utf-8")
