"""Every reading on its way from as written to level."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from levelbook.book import read_book
from levelbook.book.model import Book
from levelbook.levels import reduce
from levelbook.report.corrections import correct

HOUSE_A = Path(__file__).parent.parent / "data" / "house-a.json"


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


def rows_add_up(book: Book) -> None:
    """Hold every row of a book to its sums, and every part to one value in a group."""
    levels = reduce(book)
    parts: dict[tuple[str, ...], list[float]] = {}
    for row in correct(book, levels):
        if row.reading.struck:
            continue
        group = levels.stations[row.reading.station].group
        taken = (row.finish or 0.0) + row.setup + (row.drift or 0.0)
        assert row.signed - taken == pytest.approx(row.gives, abs=1e-9)
        assert row.gives - row.residual == pytest.approx(row.level, abs=1e-9)
        if not row.together:
            parts.setdefault((group, "finish", row.reading.finish), []).append(row.finish)
            parts.setdefault((group, "setup", row.reading.setup), []).append(row.setup)
    for values in parts.values():
        assert values == pytest.approx([values[0]] * len(values), abs=1e-9)
    for group in levels.groups:
        reference = parts[group.id, "finish", group.finish]
        assert reference == pytest.approx([0.0] * len(reference), abs=1e-9)


def test_a_finish_in_two_groups_adds_up_in_both(house_a: bytes) -> None:
    """Two garage stations on tile, tied to nothing, have a group whose own zero is on tile."""
    document = json.loads(house_a)
    for reading in document["readings"][36:38]:
        reading["finish"] = "tile"
    book = read_book(json.dumps(document).encode())
    rows = {row.reading.id: row for row in correct(book, reduce(book))}
    rows_add_up(book)
    assert (rows["r37"].setup, rows["r37"].gives) == pytest.approx((-0.1, 0.0))
    assert rows["r36"].setup == pytest.approx(0.0)


def test_a_setup_in_two_groups_adds_up_in_both(house_a: bytes) -> None:
    """Without a pair the oak stations are a group of their own; setup A serves both."""
    document = json.loads(house_a)
    document["readings"] = [r for r in document["readings"] if r["id"] not in ("r27", "r29")]
    book = read_book(json.dumps(document).encode())
    rows = {row.reading.id: row for row in correct(book, reduce(book))}
    rows_add_up(book)
    # by hand: station 1, read -0.2, is the zero of its group, so the setup's part is -0.2
    assert rows["r2"].setup == pytest.approx(-0.2)
    assert rows["r22"].gives == pytest.approx(0.5)


def test_what_is_known_only_together_is_said_to_be(house_a: bytes) -> None:
    """One station read on oak by A and on tile by B ties the sums and not their parts."""
    document = json.loads(house_a)
    document["setups"] = [{"id": "A", "instrument": "L1"}, {"id": "B", "instrument": "L1"}]
    template = {"setup": "A", "station": "c", "finish": "oak", "value": "0.5"}
    ways = (("c", "A", "oak"), ("c", "B", "tile"), ("1", "A", "oak"), ("4", "B", "tile"))
    document["readings"] = [
        template | {"id": f"r{n}", "station": at, "setup": setup, "finish": finish}
        for n, (at, setup, finish) in enumerate(ways)
    ]
    document["reference"] = {"station": "c", "finish": "oak"}
    book = read_book(json.dumps(document).encode())
    rows = correct(book, reduce(book))
    rows_add_up(book)
    assert [row.together for row in rows] == [False, True, False, True]


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(*[st.sampled_from("abc")] * 2), min_size=43, max_size=43))
def test_every_row_adds_up_whatever_is_tied(ways: list[tuple[str, str]]) -> None:
    """However finishes and setups are shared among groups, each row leads to its level."""
    document = json.loads(HOUSE_A.read_bytes())
    document["finishes"] = [{"id": name, "name": name} for name in "abc"]
    document["setups"] = [{"id": name, "instrument": "L1"} for name in "abc"]
    document["reference"] = {"station": "c"}
    for reading, (finish, setup) in zip(document["readings"], ways, strict=True):
        reading |= {"finish": finish, "setup": setup}
    rows_add_up(read_book(json.dumps(document).encode()))
