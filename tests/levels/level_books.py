"""Small books for the tests of the adjustment, written as rows of readings."""

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from levelbook.book.model import Book

Row = Sequence[Any]
"""``setup, station, finish, value`` and, if wanted, an ISO 8601 time."""


def as_text(value: float | str) -> str:
    """Return a number as a reading is written, with as many digits as it needs."""
    return value if isinstance(value, str) else f"{value:.9f}".rstrip("0").rstrip(".")


def instrument(name: str, sd: float = 0.05, resolution: float = 0.0, **more: Any) -> dict[str, Any]:
    """Return an instrument's record."""
    kind = {"kind": "hydrostatic", "higher_reads": "more"}
    return {"id": name, "sd": sd, "resolution": resolution} | kind | more


def make_book(
    rows: Iterable[Row],
    *,
    instruments: Sequence[Mapping[str, Any]] | None = None,
    setups: Mapping[str, str] | None = None,
    reference: Mapping[str, str] | None = None,
    units: str = "in",
) -> Book:
    """Return a book of these readings; what the rows name is listed in order of appearance.

    ``setups`` gives the instrument of each setup (``L`` by default). Readings are ``r1``,
    ``r2``, … in the order of the rows.
    """
    rows = [tuple(row) for row in rows]
    setups = dict(setups or {})
    used = {row[0]: setups.get(row[0], "L") for row in rows} | setups
    stations = list(dict.fromkeys(row[1] for row in rows))
    document = {
        "format": "levelbook/1",
        "units": {"level": units, "plan": "ft"},
        "property": {"label": "a house (invented)"},
        "visit": {"date": "2026-03-02"},
        "instruments": list(instruments or [instrument("L")]),
        "areas": [{"id": "a", "kind": "living", "outline": [[-1, -1], [99, -1], [99, 99]]}],
        "finishes": [{"id": f, "name": f} for f in dict.fromkeys(row[2] for row in rows)],
        "setups": [{"id": s, "instrument": i} for s, i in used.items()],
        "stations": [{"id": s, "at": [i, 0], "area": "a"} for i, s in enumerate(stations)],
        "readings": [
            {"id": f"r{i + 1}", "setup": s, "station": p, "finish": f, "value": as_text(v)}
            | ({"time": more[0]} if more and more[0] else {})
            for i, (s, p, f, v, *more) in enumerate(rows)
        ],
        "reference": dict(reference or {"station": stations[0] if stations else "none"}),
    }
    return Book.model_validate_json(json.dumps(document))


def changed(book: Book, **keys: Any) -> Book:
    """Return the book with whole keys of the document replaced by lists of records."""
    document = json.loads(book.model_dump_json(exclude_none=True)) | keys
    return Book.model_validate_json(json.dumps(document))
