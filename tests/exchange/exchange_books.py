"""Books for the tests of what comes in and goes out: small, awkward, and drawn at random."""

import json
from typing import Any

from hypothesis import strategies as st

from levelbook.book import Book, read_book

Document = dict[str, Any]
NAMES = ("p*", "P*", "=1+1", "p?", "~p", ">0", "1", "01", "-3", "@x", "ü 6", "_x0041_")
"""Names that a spreadsheet's usual lookups, or its guessing of formulas, would confuse."""

OUTLINE = [[0, 0], [40, 0], [40, 30], [0, 30]]


def document(rows: list[tuple[str, str, str, str]], **more: Any) -> Document:
    """Return a document of rows ``setup, station, finish, value``; ``more`` replaces keys."""
    stations = list(dict.fromkeys(row[1] for row in rows))
    setups = list(dict.fromkeys(row[0] for row in rows))
    finishes = list(dict.fromkeys(row[2] for row in rows))
    return {
        "format": "levelbook/1",
        "units": {"level": "in", "plan": "ft"},
        "property": {"label": "Invented house", "foundation": "slab-on-ground"},
        "visit": {"date": "2026-03-02", "purpose": "condition"},
        "instruments": [
            {"id": "L", "kind": "hydrostatic", "higher_reads": "more", "resolution": 0.1,
             "sd": 0.05},
            {"id": "R", "kind": "laser-and-rod", "higher_reads": "less", "resolution": 0.0625,
             "sd": 0.1},
        ],
        "areas": [{"id": "house", "kind": "living", "outline": OUTLINE}],
        "finishes": [{"id": name, "name": f"finish {name}"} for name in finishes],
        "setups": [{"id": name, "instrument": "LR"[i % 2]} for i, name in enumerate(setups)],
        "stations": [
            {"id": name, "at": [3 * (i % 12) + 1, 5 * (i // 12) + 1], "area": "house"}
            for i, name in enumerate(stations)
        ],
        "readings": [
            {"id": f"r{i}", "setup": s, "station": p, "finish": f, "value": v}
            for i, (s, p, f, v) in enumerate(rows, 1)
        ],
        "reference": {"station": stations[0]},
    } | more  # fmt: skip


def book_of(rows: list[tuple[str, str, str, str]], **more: Any) -> Book:
    """Return the book of :func:`document`."""
    return read_book(json.dumps(document(rows, **more)))


def groups_that_share() -> Book:
    """Return a book whose finish and setup each serve two groups that nothing connects.

    Setup A reads p and q on tile and, untied, u and v on oak; setup B reads w on tile alone.
    """
    return book_of(
        [
            ("A", "p", "tile", "0.2"),
            ("A", "q", "tile", "-0.4"),
            ("A", "u", "oak", "1.5"),
            ("A", "v", "oak", "1.1"),
            ("B", "w", "tile", "12.5"),
            ("B", "x", "tile", "12.25"),
            ("B", "x", "tile", "12 1/8"),
        ]
    )


values = st.one_of(
    st.integers(-99, 99).map(lambda tenths: f"{tenths / 10}"),
    st.tuples(st.integers(0, 9), st.integers(1, 7)).map(lambda t: f"-{t[0]} {t[1]}/8"),
    st.sampled_from(["-5/8", "+0.30", "−1.5", ".5", "0"]),
)


@st.composite
def books(draw: st.DrawFn) -> Book:
    """Return a book of 1 to 14 readings: any pattern, odd names, times, struck readings, notes."""
    names = st.sampled_from(NAMES)
    rows = draw(st.lists(st.tuples(names, names, names, values), min_size=1, max_size=14))
    made = document(rows)
    notes = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12)
    timed = draw(st.booleans())
    for i, reading in enumerate(made["readings"]):
        if timed:
            reading["time"] = f"2026-03-02T{9 + i // 6:02}:{i % 6 * 10:02}:00"
        if draw(st.booleans()):
            reading["note"] = draw(notes | st.sampled_from(["=HYPERLINK()", "'=x", "'", 'a, "b"']))
        if i and reading["station"] == rows[0][1] and draw(st.booleans()):
            reading["struck"] = True
            here = [r["id"] for r in made["readings"] if r["station"] == reading["station"]]
            if reading["id"] != here[0]:
                reading["instead"] = here[0]
    for station in made["stations"]:
        if draw(st.integers(0, 3)) == 0:
            station["note"] = draw(notes)
    return read_book(json.dumps(made))


def read(made: Document) -> Book:
    """Return the book of a document."""
    return read_book(json.dumps(made))
