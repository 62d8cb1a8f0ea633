"""Write ``tests/vectors/record.json``: entries and what they add up to, for both sides of the app.

The drawn cases come from the Python rule; the hand-written ones in ``tests/record`` stand on
expectations of their own, so the rule is not only held against itself.
"""

import json
import random
from pathlib import Path
from typing import Any

from levelbook.archive.entries import write_entry
from levelbook.archive.record import Entry, State, add_up

TARGET = Path(__file__).resolve().parent.parent / "tests" / "vectors" / "record.json"
CASES, LENGTH = 60, 28
THINGS = (
    ("reading", "r1"), ("reading", "r2"), ("station", "1"), ("station", "2"), ("setup", "A"),
    ("finish", "tile"), ("instrument", "L1"), ("area", "house"), ("property", ""),
    ("distress", "d1"),
)  # fmt: skip
VALUES: dict[str, tuple[tuple[str, Any], ...]] = {
    "reading": (("station", "1"), ("station", "2"), ("setup", "A"), ("finish", "tile"),
                ("value", "0.6"), ("value", "-5/8"), ("struck", True), ("struck", False),
                ("gone", True), ("note", None)),
    "station": (("area", "house"), ("at", [1, 2.5]), ("note", "x"), ("note", None), ("gone", True)),
    "setup": (("instrument", "L1"), ("base", [0, 0]), ("gone", True)),
}  # fmt: skip
OTHERS = (("name", "a"), ("name", "b"), ("name", None), ("gone", True), ("gone", False))


def plain(state: State) -> list[list[Any]]:
    """Return a state as a list of kind, id and fields, in the order of the lists."""
    return [[kind, of, dict(fields)] for (kind, of), fields in state.objects.items()]


def draw_case(chance: random.Random) -> list[Entry]:
    """Return entries of two devices that set and undo, with clocks that may tie."""
    entries: list[Entry] = []
    for k in range(chance.randint(1, LENGTH)):
        device = chance.choice(("device0a", "device0b"))
        clock = f"{chance.randint(1, 12):016d}-{chance.randint(0, 1):04x}-{device}"
        stamp = (f"entry-{k:03d}", "visit-01", clock, device, "A", "")
        if entries and chance.random() < 0.35:
            entries.append(Entry(*stamp, do="undo", undoes=chance.choice(entries).id))
            continue
        kind, of = chance.choice(THINGS)
        fields = dict(chance.sample(VALUES.get(kind, OTHERS), chance.randint(1, 3)))
        entries.append(Entry(*stamp, do="set", kind=kind, of=of, fields=fields))
    chance.shuffle(entries)
    return entries


def make() -> str:
    """Return the text of the vectors."""
    chance = random.Random(20260301)
    cases = []
    for _ in range(CASES):
        entries = draw_case(chance)
        told = [write_entry(entry) for entry in entries]
        cases.append({"entries": told, "adds_up_to": plain(add_up(entries))})
    lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    return f'{{"cases":[\n{lines}\n]}}\n'


def main() -> None:
    """Write the file."""
    TARGET.parent.mkdir(exist_ok=True)
    TARGET.write_text(make(), "utf-8")


if __name__ == "__main__":
    main()
