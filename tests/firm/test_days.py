"""Days in a search: read as people write them, and only where they are days."""

from datetime import date

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from levelbook.firm.days import read_days


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-11", "2026-11"),
        ("2026/11/5", "2026-11-05"),
        ("2026.11.25", "2026-11-25"),
        ("11/25/2026", "2026-11-25"),
        ("11-25-2026", "2026-11-25"),
        ("5/11/2026", "2026-05-11"),
        ("25/11/2026", "2026-11-25"),
        ("25.11.2026", "2026-11-25"),
        ("11/25/26", "2026-11-25"),
        ("11/2026", "2026-11"),
        ("Nov 2026", "2026-11"),
        ("NOVEMBER 2026", "2026-11"),
        ("sept. 2026", "2026-09"),
        ("Nov, 2026", "2026-11"),
        ("May 2026", "2026-05"),
        ("Nov 25, 2026", "2026-11-25"),
        ("November 25th 2026", "2026-11-25"),
        ("Nov 20 2026", "2026-11-20"),
        ("25 Nov 2026", "2026-11-25"),
        ("25. November 2026", "2026-11-25"),
        ("2026 Nov 5", "2026-11-05"),
    ],
)
def test_a_day_is_read_as_people_write_it(text: str, day: str) -> None:
    """The day or month is taken out of the search, whatever stands beside it."""
    rest, days = read_days(f"12 oak lane {text} reed")
    assert days == (day,)
    assert rest.split() == ["12", "oak", "lane", "reed"]
    assert read_days(text) == (" ", (day,))


@pytest.mark.parametrize(
    "text",
    [
        *("2026", "2026-0014", "13/45/2026", "2026-00", "30.2.2026", "nov", "Nov 25", "May 12"),
        *("Mayfield 2026", "12 Marchmont", "1/2/2026/3", "LV-2026-1", "2026-11-25T10:00", "99/1"),
    ],
)
def test_what_is_no_day_stays(text: str) -> None:
    """Years, numbers of houses, reports and instruments stay words."""
    assert read_days(text) == (text, ())


@given(st.dates(date(1900, 1, 1), date(2099, 12, 31)))
def test_every_day_is_read_in_every_form(day: date) -> None:
    """All ways of writing a day lead to it."""
    forms = (f"{day:%Y-%m-%d}", f"{day:%m/%d/%Y}", f"{day:%B %d, %Y}", f"{day:%d %b %Y}")
    assert {read_days(text)[1] for text in forms} == {(day.isoformat(),)}
    assert read_days(f"{day:%b %Y}")[1] == (day.isoformat()[:7],)


PARTS = ("2026-05-14", "5/14/2026", "May 14, 2026", "14 May 2026", "2026-05", "June", "31", "2025")


@given(st.lists(st.text(max_size=30) | st.sampled_from(PARTS), max_size=6).map(" ".join))
@example("oak 2026-05-14 lane")
def test_no_text_fails(text: str) -> None:
    """Whatever is typed, what is found is a day or month, and nothing else is lost."""
    rest, days = read_days(text)
    assert all(len(day) in (7, 10) and date.fromisoformat(f"{day}-01"[:10]) for day in days)
    assert days or rest == text
