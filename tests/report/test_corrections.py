"""Every reading on its way from as written to level."""

import json

import pytest

from levelbook.book import read_book
from levelbook.levels import reduce
from levelbook.report.corrections import correct


def test_the_way_of_one_reading(house_a: bytes) -> None:
    """A reading on oak gives its level once the oak's 0.45 in above the tile is taken off."""
    book = read_book(house_a)
    row = next(r for r in correct(book, reduce(book)) if r.reading.id == "r22")
    assert row.signed == pytest.approx(0.3)
    assert row.finish == pytest.approx(0.45)
    assert row.gives == pytest.approx(-0.15)
    assert row.level == pytest.approx(-0.15)
    assert row.residual == pytest.approx(0.0, abs=1e-9)


def test_a_rod_reading_is_turned(house_a: bytes) -> None:
    """Where a higher floor reads less, the sign is turned before anything is taken off."""
    document = json.loads(house_a)
    document["instruments"][0]["higher_reads"] = "less"
    book = read_book(json.dumps(document).encode())
    row = next(r for r in correct(book, reduce(book)) if r.reading.id == "r22")
    assert row.signed == pytest.approx(-0.3)


def test_a_struck_reading_is_kept_and_takes_no_part(house_a: bytes) -> None:
    """A struck reading stays in its place, with nothing computed for it."""
    document = json.loads(house_a)
    document["readings"][5] |= {"struck": True, "value": "99"}
    book = read_book(json.dumps(document).encode())
    rows = correct(book, reduce(book))
    assert [r.reading.id for r in rows] == [r["id"] for r in document["readings"]]
    assert rows[5].signed is rows[5].level is rows[5].residual is None


def test_drift_is_taken_off(house_a: bytes) -> None:
    """Where closing checks tell a drift, each reading loses it in proportion to its time."""
    document = json.loads(house_a)
    for i, reading in enumerate(r for r in document["readings"] if r["setup"] == "A"):
        reading["time"] = f"2026-03-02T{9 + i // 30:02}:{2 * (i % 30):02}:00"
    last = {"id": "again", "setup": "A", "station": "c", "finish": "tile", "value": "0.3"}
    document["readings"].append(last | {"time": "2026-03-02T11:00:00"})
    book = read_book(json.dumps(document).encode())
    levels = reduce(book)
    rows = [r for r in correct(book, levels) if r.reading.setup == "A"]
    assert levels.setups["A"].drift == pytest.approx(0.15, abs=0.05)
    assert rows[-1].drift == pytest.approx(2 * levels.setups["A"].drift)
    assert rows[0].drift == pytest.approx(0.0)
    for row in rows:
        assert row.gives - row.residual == pytest.approx(row.level, abs=1e-9)
