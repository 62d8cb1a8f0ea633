"""What falls due: houses near the end of their first year, and instruments to check."""

from datetime import UTC, date, datetime, timedelta

import pytest
import sqlalchemy as sa
from houses import BOSS, FIRM, OTHER
from icalendar import Calendar

from levelbook.archive.database import Database
from levelbook.archive.tables import VISITS
from levelbook.firm.instruments import Check, add, add_check, change
from levelbook.firm.reminders import calendar, due

TODAY = date(2026, 5, 20)
AT = "2026-05-20T16:00:00.000000Z"


def put(database: Database, name: str, day: str, **about: str) -> None:
    """Put a row into the list of visits."""
    row = {"firm": FIRM, "id": name, "label": name, "date": day, "updated": AT} | about
    with database.use(row["firm"]) as connection:
        connection.execute(sa.insert(VISITS).values(**row))


def names(database: Database, days: int = 60, today: date = TODAY) -> list[str]:
    """Return the houses due."""
    return [each.visit for each in due(database, FIRM, today, days).visits]


@pytest.mark.parametrize(
    ("day", "told"),
    [
        ("2025-05-20", True),
        ("2025-04-20", True),
        ("2025-04-19", False),
        ("2025-07-19", True),
        ("2025-07-20", False),
        ("2026-05-14", False),
        ("2024-05-20", False),
        ("2025-06-01T10:00:00", True),
        ("2025-06", False),
        ("", False),
    ],
)
def test_a_house_is_due_near_its_first_year_date(firms: Database, day: str, told: bool) -> None:
    """From 30 days after that date back to 60 before it, by the day of the visit."""
    put(firms, "house", day)
    assert names(firms) == (["house"] if told else [])


def test_a_leap_day_ends_its_year_on_the_28th(firms: Database) -> None:
    """The date rule is that of a single reminder."""
    put(firms, "leap", "2024-02-29")
    (found,) = due(firms, FIRM, date(2025, 2, 1)).visits
    assert (found.first_year, found.come) == (date(2025, 2, 28), date(2025, 1, 31))


def test_a_house_visited_again_is_due_no_more(firms: Database) -> None:
    """A repeat visit to the same address, or by the same name without one, ends it."""
    put(firms, "seen", "2025-06-01", address="3 Reed Row")
    put(firms, "unseen", "2025-06-02", address="4 Reed Row")
    put(firms, "again", "2026-05-01", address="3  REED ROW", purpose="repeat")
    put(firms, "before", "2025-05-30", address="4 Reed Row", purpose="repeat")
    put(firms, "theirs", "2025-06-03", firm=OTHER)
    assert names(firms) == ["unseen"]
    assert names(firms, days=5) == []


def test_instruments_are_told_when_due_or_never_checked(firms: Database) -> None:
    """The most pressing first; a retired one and one checked lately are left out."""
    made = {
        name: add(firms, BOSS, name, "", 100) for name in ("late", "soon", "fine", "old", "new")
    }
    days = {"late": 150, "soon": 60, "fine": 5, "old": 500}
    for name, ago in days.items():
        day = (TODAY - timedelta(ago)).isoformat()
        add_check(firms, BOSS, made[name], Check(day, 0.0, "in", "x", ""), AT)
    change(firms, BOSS, made["old"], "2026-01-01", None)
    found = due(firms, FIRM, TODAY).instruments
    assert [(each.name, each.due) for each in found] == [
        ("new", None),
        ("late", TODAY - timedelta(50)),
        ("soon", TODAY + timedelta(40)),
    ]


def test_the_calendar_has_an_entry_for_each(firms: Database) -> None:
    """Whole days that a calendar program reads; the same thing keeps its id; nobody is named."""
    put(firms, "house;a,b\nSUMMARY:x", "2025-06-01", inspector="A. Person")
    add(firms, BOSS, "Level 1", "LV-100", 365)
    stamp = datetime(2026, 5, 20, 15, tzinfo=UTC)
    found = due(firms, FIRM, TODAY)
    data = calendar(found, TODAY, stamp)
    events = list(Calendar.from_ical(data).walk("VEVENT"))
    assert [event.decoded("dtstart") for event in events] == [date(2026, 5, 4), TODAY]
    assert [str(event["summary"]) for event in events][1] == "Check of instrument Level 1 due"
    later = calendar(found, TODAY, stamp + timedelta(days=1))
    again = list(Calendar.from_ical(later).walk("VEVENT"))
    assert [event["uid"] for event in events] == [event["uid"] for event in again]
    assert b"A. Person" not in data
    assert data.count(b"\r\nSUMMARY") == 2
