"""CSV that a spreadsheet reads as it was meant, and from which levels can be reworked."""

import csv
import io
import json

import pytest

from levelbook.book import read_book
from levelbook.findings import assess
from levelbook.report.tables import levels_csv, readings_csv, safe


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("=1+1", "'=1+1"),
        ("@SUM(A1)", "'@SUM(A1)"),
        ("+CMD|'/C calc'!A0", "'+CMD|'/C calc'!A0"),
        ("\t=1", "'\t=1"),
        (" =1", "' =1"),
        ("＝1", "'＝1"),
        ("-5/8", "'-5/8"),
        ("-0.60", "-0.60"),
        ("+1.5", "+1.5"),
        (".5", ".5"),
        ("-1e5", "'-1e5"),
        ("-", "'-"),
        ("bed", "bed"),
        ("", ""),
    ],
)
def test_safe(text: str, kept: str) -> None:
    """Text that could be a formula is defused; a plain number stays a number."""
    assert safe(text) == kept


def rows(content: bytes) -> list[dict[str, str]]:
    """Return a CSV file's rows as a spreadsheet would read them."""
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_every_reading_can_be_reworked(house_a: bytes) -> None:
    """The steps in each row lead from the written value to the level, in full precision."""
    table = rows(readings_csv(assess(read_book(house_a))))
    assert len(table) == len(json.loads(house_a)["readings"])
    for row in table:
        if row["struck"] == "true":
            assert row["level"] == row["gives"] == ""
            continue
        steps = ("finish_height", "setup_constant", "drift")
        gives = float(row["signed"]) - sum(float(row[s] or 0) for s in steps)
        assert float(row["signed"]) == float(row["value"])
        assert gives == pytest.approx(float(row["gives"]), abs=1e-12)
        assert gives - float(row["residual"]) == pytest.approx(float(row["level"]), abs=1e-9)


def test_levels_of_the_sample_house(house_a: bytes) -> None:
    """Station 7 of the sample house is at −0.85 in and station 21 at −0.15 in."""
    table = {row["station"]: row for row in rows(levels_csv(assess(read_book(house_a))))}
    assert float(table["7"]["level"]) == pytest.approx(-0.85)
    assert float(table["21"]["level"]) == pytest.approx(-0.15)
    assert table["7"]["level_unit"] == "in"
    assert table["g1"]["group"] != table["7"]["group"]


def test_the_files_are_what_they_say(house_a: bytes) -> None:
    """A byte-order mark, CRLF line ends, and as many cells in every row."""
    for content in (
        readings_csv(assess(read_book(house_a))),
        levels_csv(assess(read_book(house_a))),
    ):
        assert content.startswith(b"\xef\xbb\xbf")
        lines = content.decode("utf-8-sig").split("\r\n")
        assert lines[-1] == ""
        assert len({len(row) for row in csv.reader(lines[:-1])}) == 1


def test_a_station_that_was_not_read_has_no_level(house_a: bytes) -> None:
    """A station without readings is listed with empty cells, not with a level of zero."""
    document = json.loads(house_a)
    document["stations"].append({"id": "unread", "at": [5, 5], "area": "house", "note": "=2+2"})
    table = rows(levels_csv(assess(read_book(json.dumps(document).encode()))))
    assert table[-1]["level"] == table[-1]["sd"] == ""
    assert table[-1]["note"] == "'=2+2"
