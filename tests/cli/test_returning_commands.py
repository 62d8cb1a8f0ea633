"""The commands for the next visit: again and remind."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from icalendar import Calendar

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def book(tmp_path: Path, house_a: bytes) -> Path:
    """Return the sample house's book as a file."""
    path = tmp_path / "house.json"
    path.write_bytes(house_a)
    return path


def test_again_beside_the_book(run: Run, book: Path) -> None:
    """The empty book lies beside the old one; check says what is still missing."""
    code, out, _ = run("again", book, "--date", "2027-03-02")
    empty = book.with_name("house-2027-03-02.json")
    assert (code, out) == (0, f"{empty}\n")
    code, out, _ = run("check", empty, "--json")
    assert code == 2
    assert [fault["code"] for fault in json.loads(out)["faults"]] == ["no-readings"]
    code, _, err = run("again", book, "--date", "2027-03-02")
    assert code == 2
    assert "--out" in err
    assert run("again", book, "--date", "2027-03-02", "--overwrite")[0] == 0
    assert run("again", book, "--date", "soon")[0] == 2


def test_remind_writes_a_calendar(run: Run, book: Path) -> None:
    """The file has one event, at the time that was asked for; what was assumed is told."""
    code, out, _ = run("remind", book)
    path = book.with_name("house-return.ics")
    assert code == 0
    assert out.startswith(f"{path}\n")
    assert "2027-02-02 09:00 America/Chicago" in out
    assert "warranty's terms govern" in out
    assert len(list(Calendar.from_ical(path.read_bytes()).walk("VEVENT"))) == 1
    other = book.with_name("other.ics")
    asked = ("--first-year-date", "2027-05-14", "--weeks", 2, "--time", "13:30", "--out", other)
    code, out, _ = run("remind", book, *asked, "--zone", "America/Denver")
    assert "2027-04-30 13:30 America/Denver" in out
    assert "govern" not in out


def test_return_sheet_beside_the_book(run: Run, book: Path) -> None:
    """The sheet lies beside the book, and is not replaced unasked."""
    path = book.with_name("house-return-sheet.pdf")
    assert run("return-sheet", book) == (0, f"{path}\n", "")
    assert path.read_bytes().startswith(b"%PDF-")
    assert run("return-sheet", book)[0] == 2
    assert run("return-sheet", book, "--overwrite")[0] == 0


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--first-year-date", "never"),
        ("--first-year-date", "2020-01-01"),
        ("--time", "nine"),
        ("--time", "09:00Z"),
        ("--zone", "Nowhere"),
        ("--weeks", "-1"),
    ],
)
def test_bad_options_are_told(run: Run, book: Path, option: str, value: str) -> None:
    """What is no day, time or zone is one line, and no file is written."""
    code, out, err = run("remind", book, option, value)
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 1
    assert not book.with_name("house-return.ics").exists()
