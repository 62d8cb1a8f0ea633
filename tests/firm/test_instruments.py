"""The register of instruments: what is due, and what is said of a visit made with one overdue."""

import json
from datetime import date, timedelta

import houses
import pytest
from houses import BOSS, FIRM, LEAD, NOW, OTHER, STRANGER
from hypothesis import given
from hypothesis import strategies as st

from levelbook.archive.database import Database
from levelbook.book import read_book
from levelbook.book.model import Book
from levelbook.errors import MissingError, UsageError
from levelbook.firm.instruments import (
    Check,
    Registered,
    add,
    add_check,
    cautions,
    change,
    match,
    register,
)
from levelbook.firm.releases import about_of, release
from levelbook.firm.reviews import FOR_REVIEW, move

AT = "2026-05-20T16:00:00.000000Z"


def check(day: str, deviation: float = 0.02) -> Check:
    """Return a check of a day."""
    return Check(day, deviation, "in", BOSS.person, "")


def book(day: str = "2026-05-14", **instrument: object) -> Book:
    """Return the small book of a day, with parts of its instrument set."""
    made = houses.document(date=day)
    made["instruments"][0] |= instrument
    return read_book(json.dumps(made))


def known(*checks: str, days: int = 365, **about: object) -> Registered:
    """Return a registered instrument with checks on some days."""
    told = {"id": "i1", "name": "Level 1", "serial": "LV-100", "retired": None} | about
    return Registered(check_days=days, checks=tuple(map(check, checks)), **told)


def test_the_register_keeps_instruments_and_their_checks(firms: Database) -> None:
    """What is added is listed with its checks in the order of their days; retired ones last."""
    first = add(firms, BOSS, " Level 1 ", "LV-100", 365)
    second = add(firms, BOSS, "Another", "", 90)
    for day in ("2026-03-01", "2025-03-01"):
        add_check(firms, LEAD, first, check(day), AT)
    change(firms, BOSS, second, "2026-04-01", None)
    found = register(firms, FIRM)
    assert [each.name for each in found] == ["Level 1", "Another"]
    assert [each.date for each in found[0].checks] == ["2025-03-01", "2026-03-01"]
    assert (found[1].retired, found[1].check_days) == ("2026-04-01", 90)
    change(firms, BOSS, second, None, 30, keep=True)
    assert register(firms, FIRM)[1].retired == "2026-04-01"
    change(firms, BOSS, second, None, None)
    assert register(firms, FIRM)[0].name == "Another"


def test_another_firm_has_a_register_of_its_own(firms: Database) -> None:
    """To another firm an instrument is as if it were not."""
    made = add(firms, BOSS, "Level 1", "LV-100", 365)
    assert register(firms, OTHER) == ()
    add(firms, STRANGER, "Level 1", "LV-100", 365)
    with pytest.raises(MissingError):
        add_check(firms, STRANGER, made, check("2026-05-01"), AT)
    with pytest.raises(MissingError):
        change(firms, STRANGER, made, None, 5)
    assert register(firms, FIRM)[0].checks == ()


def test_what_cannot_be_written_down_is_refused(firms: Database) -> None:
    """No name, a number taken, no interval, a day to come, an unknown unit, a huge deviation."""
    made = add(firms, BOSS, "Level 1", "LV-100", 365)
    with pytest.raises(UsageError, match="has this serial number"):
        add(firms, BOSS, "Level 2", "lv 100", 365)
    with pytest.raises(UsageError, match="a name of 1 to 200"):
        add(firms, BOSS, "  ", "", 365)
    with pytest.raises(UsageError, match="1 to 3650 days"):
        add(firms, BOSS, "Level 2", "", 0)
    with pytest.raises(UsageError, match="yet to come"):
        add_check(firms, BOSS, made, check("2026-05-21"), AT)
    with pytest.raises(UsageError, match="not a day"):
        add_check(firms, BOSS, made, check("May"), AT)
    with pytest.raises(UsageError, match="no deviation"):
        add_check(firms, BOSS, made, Check("2026-05-01", 0.0, "ft", "x", ""), AT)
    with pytest.raises(UsageError, match="no deviation"):
        add_check(firms, BOSS, made, check("2026-05-01", float("nan")), AT)
    with pytest.raises(UsageError, match="too long"):
        add_check(firms, BOSS, made, Check("2026-05-01", 0.0, "in", "x", "n" * 1001), AT)
    change(firms, BOSS, made, "2026-05-01", None)
    assert add(firms, BOSS, "Level 2", "LV-100", 365)


@given(
    days=st.integers(1, 800),
    checks=st.lists(st.integers(-900, 900), max_size=6),
    at=st.integers(-900, 900),
)
def test_overdue_is_more_days_since_the_last_check_than_allowed(
    days: int, checks: list[int], at: int
) -> None:
    """By the definition: some check within the interval before the day, or it is overdue."""
    origin = date(2025, 6, 1)
    told = known(*((origin + timedelta(k)).isoformat() for k in sorted(checks)), days=days)
    recent = any(0 <= at - k <= days for k in checks)
    assert told.overdue(origin + timedelta(at)) == (not recent)


def test_an_instrument_is_found_by_number_then_by_name() -> None:
    """Spaces, signs and capitals aside; another number is another instrument."""
    used = book(serial="lv 100").instruments[0]
    assert match(used, [known()]) == known()
    assert match(used, [known(serial="LV-101", name=used.id)]) is None
    assert match(used, [known(serial="", name="LV 100")]) is not None
    bare = book(serial=None).instruments[0]
    assert match(bare, [known(serial="", name=bare.id.upper())]) is not None
    assert match(bare, [known()]) is None
    old = known(retired="2026-01-01", id="i0")
    assert match(used, [old, known()]) == known()


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (known("2026-05-01"), ""),
        (known("2025-05-14"), ""),
        (known("2025-05-13"), "its check was due on May 13, 2026"),
        (known("2026-05-15"), "no check made by the visit on May 14, 2026"),
        (known(), "no check made by the visit"),
        (known("2026-05-01", retired="2026-05-02"), "retired since May 2, 2026"),
        (known("2026-05-01", retired="2026-05-20"), ""),
        (known("2026-05-01", serial="LV-7"), "is not in the register"),
    ],
)
def test_what_is_said_of_a_visit(found: Registered, told: str) -> None:
    """A sentence where the visit's instrument was overdue, unchecked, retired or unknown."""
    said = cautions(book(serial="LV-100"), [found])
    assert len(said) == bool(told)
    assert told in "".join(said)


def test_nothing_is_said_without_a_register_or_of_what_was_not_used() -> None:
    """A firm that keeps no register hears nothing, nor does anyone of an unused instrument."""
    assert cautions(book(serial="LV-100"), []) == ()
    made = houses.document(date="2026-05-14")
    made["instruments"].append(made["instruments"][0] | {"id": "spare", "serial": "LV-9"})
    made["instruments"][0]["serial"] = "LV-100"
    assert cautions(read_book(json.dumps(made)), [known("2026-05-01")]) == ()


def test_an_overdue_instrument_is_told_in_the_report(firms: Database) -> None:
    """The sentence stands in the notes of the release, on the client's page and in the report."""
    made = add(firms, BOSS, houses.document()["instruments"][0]["id"], "", 30)
    add_check(firms, BOSS, made, check("2026-01-02"), AT)
    visit = houses.take_in(firms, date="2026-05-14")
    move(firms, LEAD, visit, FOR_REVIEW, "", AT)
    office = houses.office(firms)
    done = release(office, LEAD, visit, "", NOW)
    note = about_of(office.blobs, done)["notes"][-1]
    assert "its check was due on February 1, 2026" in note
    page = office.blobs.get(done.files["plan.html"])
    assert page is not None
    assert note.encode() in page
