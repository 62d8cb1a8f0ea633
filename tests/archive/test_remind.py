"""The calendar file: its lines by RFC 5545, its instants by the zone's own data, its words."""

import io
import json
import re
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from dateutil.tz import tzical
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from levelbook.archive.remind import Reminder, first_year_date, remind
from levelbook.archive.zones import changes
from levelbook.book import read_book
from levelbook.book.model import Book
from levelbook.demo import house
from levelbook.errors import UsageError

DEMO = read_book(house())
STAMP = datetime(2026, 5, 14, 20, 0, tzinfo=UTC)
LINE = re.compile(
    r"[A-Z-]+(;[A-Z-]+=(\"[^\"\x00-\x1f]*\"|[^\";:,\x00-\x1f]*))*:[^\x00-\x08\n-\x1f]*"
)
TEXT = re.compile(r"(\\[\\;,nN]|[^\\;,])*")
NEEDED = {
    "VCALENDAR": {"PRODID", "VERSION"},
    "VEVENT": {"UID", "DTSTAMP", "DTSTART"},
    "VTIMEZONE": {"TZID"},
    "STANDARD": {"DTSTART", "TZOFFSETFROM", "TZOFFSETTO"},
    "DAYLIGHT": {"DTSTART", "TZOFFSETFROM", "TZOFFSETTO"},
    "VALARM": {"ACTION", "TRIGGER", "DESCRIPTION"},
}


def relabelled(label: str) -> Book:
    """Return the demo house under another label."""
    document = json.loads(house())
    document["property"]["label"] = label
    return read_book(json.dumps(document))


def unfolded(data: bytes) -> list[str]:
    """Return the content lines of a calendar file, after holding its raw lines to RFC 5545."""
    assert data.endswith(b"\r\n")
    raw = data[:-2].split(b"\r\n")
    assert all(len(line) <= 75 for line in raw), "a line is longer than 75 octets"
    assert not any(b"\n" in line or b"\r" in line for line in raw)
    for line in raw:
        line.decode("utf-8")
    return data.replace(b"\r\n ", b"").decode("utf-8")[:-2].split("\r\n")


def validate(data: bytes) -> None:
    """Hold a calendar file to RFC 5545: lines, nesting, needed properties, once each."""
    open_parts: list[tuple[str, list[str]]] = []
    for line in unfolded(data):
        assert LINE.fullmatch(line), line
        name, value = re.match(r"([A-Z-]+)[^:]*:(.*)", line).groups()  # type: ignore[union-attr]
        if name == "BEGIN":
            open_parts.append((value, []))
        elif name == "END":
            part, given = open_parts.pop()
            assert part == value
            assert set(given) >= NEEDED[part], part
            assert len(given) == len(set(given)), f"a property twice in {part}"
        else:
            open_parts[-1][1].append(name)
        if name in ("SUMMARY", "DESCRIPTION"):
            assert TEXT.fullmatch(value), value
    assert not open_parts


def event(data: bytes) -> Any:
    """Return the event of a calendar file as the reference library reads it."""
    return next(c for c in Calendar.from_ical(data).walk("VEVENT"))


def test_the_file_is_valid_and_reads_back() -> None:
    """The default file passes the validator and reads back with the day and zone."""
    data = remind(DEMO, Reminder(first_year_date(DEMO)), STAMP)
    validate(data)
    found = event(data)
    assert found.decoded("dtstart") == datetime(
        2027, 4, 16, 9, 0, tzinfo=ZoneInfo("America/Chicago")
    )
    assert found.decoded("dtstamp") == STAMP
    assert found.decoded("duration") == timedelta(hours=2)


@pytest.mark.parametrize(
    ("day", "at", "zone", "instant"),
    [
        ("2027-03-13", time(9), "America/Chicago", "2027-03-13T15:00:00Z"),
        ("2027-03-14", time(1, 59), "America/Chicago", "2027-03-14T07:59:00Z"),
        ("2027-03-14", time(3), "America/Chicago", "2027-03-14T08:00:00Z"),
        ("2027-03-14", time(9), "America/Chicago", "2027-03-14T14:00:00Z"),
        ("2027-11-06", time(9), "America/Chicago", "2027-11-06T14:00:00Z"),
        ("2027-11-07", time(0, 59), "America/Chicago", "2027-11-07T05:59:00Z"),
        ("2027-11-07", time(2), "America/Chicago", "2027-11-07T08:00:00Z"),
        ("2027-11-07", time(9), "America/Chicago", "2027-11-07T15:00:00Z"),
        ("2027-07-01", time(9), "America/Phoenix", "2027-07-01T16:00:00Z"),
        ("2027-04-04", time(9), "Australia/Adelaide", "2027-04-03T23:30:00Z"),
        ("2027-04-03", time(9), "Australia/Adelaide", "2027-04-02T22:30:00Z"),
        ("2027-07-01", time(9), "UTC", "2027-07-01T09:00:00Z"),
    ],
)
def test_the_instant_is_right(day: str, at: time, zone: str, instant: str) -> None:
    """Before and after the clocks change, the file means the right moment.

    Instants worked out by hand from the rules: Chicago UTC-6, from 14 March to 7 November 2027
    UTC-5; Phoenix UTC-7; Adelaide UTC+10:30 until 4 April 2027, then +9:30. Read three ways:
    by the reference library, the zone's own data, and nothing but the file's own VTIMEZONE.
    """
    data = remind(DEMO, Reminder(date.fromisoformat(day), 0, zone, at), STAMP)
    validate(data)
    right = datetime.fromisoformat(instant)
    start = event(data).decoded("dtstart")
    assert start.astimezone(UTC) == right
    assert start.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC) == right
    assert by_the_file(data, start.replace(tzinfo=None)) == right


def by_the_file(data: bytes, local: datetime) -> datetime:
    """Return the moment of a local time by nothing but the VTIMEZONE in the file.

    The rule of RFC 5545, section 3.6.5: the observance with the latest onset at or before the
    time holds; an onset is a local time of the offset before it.
    """
    found: list[tuple[datetime, timedelta]] = []
    for zone in Calendar.from_ical(data).walk("VTIMEZONE"):
        for part in zone.subcomponents:
            before = part.decoded("tzoffsetfrom")
            onset = (part.decoded("dtstart") - before).replace(tzinfo=UTC)
            found.append((onset, part.decoded("tzoffsetto")))
    found.sort()
    offset = found[0][1]
    for onset, after in found:
        if (local - after).replace(tzinfo=UTC) >= onset:
            offset = after
    return (local - offset).replace(tzinfo=UTC)


def test_a_skipped_time_and_a_double_time() -> None:
    """A time the clocks skip is the same moment an hour later; of a double one it is the first."""
    zone = "America/Chicago"
    skipped = Reminder(date(2027, 3, 14), 0, zone, time(2, 30))
    assert skipped.start.astimezone(UTC) == datetime(2027, 3, 14, 8, 30, tzinfo=UTC)
    double = Reminder(date(2027, 11, 7), 0, zone, time(1, 30))
    assert double.start.astimezone(UTC) == datetime(2027, 11, 7, 6, 30, tzinfo=UTC)
    for reminder in (skipped, double):
        validate(remind(DEMO, reminder, STAMP))


def test_changes_of_time_are_those_of_the_rules() -> None:
    """The moments found are 2:00 on the second Sunday of March and first of November."""
    found = changes(
        ZoneInfo("America/Chicago"),
        datetime(2027, 1, 1, tzinfo=UTC),
        datetime(2028, 12, 31, tzinfo=UTC),
    )
    assert [moment.isoformat()[:16] for moment in found] == [
        "2027-03-14T08:00",
        "2027-11-07T07:00",
        "2028-03-12T08:00",
        "2028-11-05T07:00",
    ]


@settings(max_examples=40)
@given(
    st.sampled_from(
        ["America/Denver", "Europe/Dublin", "Africa/Casablanca", "Asia/Tehran",
         "Australia/Lord_Howe", "America/St_Johns", "Asia/Kathmandu", "Pacific/Chatham"]
    ),
    st.datetimes(datetime(2026, 6, 1), datetime(2029, 1, 1)),
)  # fmt: skip
def test_any_zone_any_time(zone: str, local: datetime) -> None:
    """The file's own zone gives the moment that the zone's data give, wherever it is one."""
    there = ZoneInfo(zone)
    one, other = local.replace(tzinfo=there), local.replace(tzinfo=there, fold=1)
    if one.utcoffset() != other.utcoffset():
        return
    reminder = Reminder(local.date(), 0, zone, local.time().replace(microsecond=0))
    data = remind(DEMO, reminder, STAMP)
    validate(data)
    at = local.replace(microsecond=0)
    assert by_the_file(data, at) == at.replace(tzinfo=there).astimezone(UTC)


@settings(max_examples=60)
@given(st.text(st.characters(codec="utf-8", exclude_categories=["C", "Zl", "Zp"]), max_size=200))
def test_any_label_is_valid_and_reads_back(label: str) -> None:
    """Commas, semicolons, backslashes and long foreign labels are escaped, folded and kept."""
    if not label.strip():
        return
    data = remind(relabelled(label), Reminder(date(2027, 5, 14)), STAMP)
    validate(data)
    assert str(event(data)["summary"]) == f"Floor levels again: {label}"


def test_the_same_house_is_the_same_entry() -> None:
    """Another day for the same book keeps the UID; another book has another."""
    one = event(remind(DEMO, Reminder(date(2027, 5, 14)), STAMP))
    moved = event(remind(DEMO, Reminder(date(2027, 6, 14)), STAMP + timedelta(days=3)))
    other = event(remind(relabelled("Elsewhere"), Reminder(date(2027, 5, 14)), STAMP))
    assert one["uid"] == moved["uid"] != other["uid"]


def test_the_same_order_gives_the_same_bytes() -> None:
    """Nothing but what was given decides the file."""
    reminder = Reminder(date(2027, 5, 14))
    assert remind(DEMO, reminder, STAMP) == remind(DEMO, reminder, STAMP)


def test_nobody_is_named() -> None:
    """The file holds the label of the house and nothing else of house or people."""
    told = "".join(unfolded(remind(DEMO, Reminder(date(2027, 5, 14)), STAMP)))
    assert DEMO.property.label in told
    for private in (DEMO.property.address, DEMO.visit.surveyor, DEMO.visit.firm):
        assert private
        assert private not in told


@pytest.mark.parametrize(
    ("visit", "expected"),
    [("2026-05-14", "2027-05-14"), ("2028-02-29", "2029-02-28"), ("2027-02-28", "2028-02-28")],
)
def test_one_year_later(visit: str, expected: str) -> None:
    """The first-year date is the same day next year, and 28 February for a leap day."""
    book = DEMO.model_copy(update={"visit": DEMO.visit.model_copy(update={"date": visit})})
    assert first_year_date(book) == date.fromisoformat(expected)


@pytest.mark.parametrize("zone", ["", "Nowhere/None", "../etc/passwd", "a\0b", "America"])
def test_unknown_zones_are_told(zone: str) -> None:
    """A zone that there is not is refused with an example."""
    with pytest.raises(UsageError, match="America/Chicago"):
        remind(DEMO, Reminder(date(2027, 5, 14), zone=zone), STAMP)


def test_a_return_before_the_visit_is_told() -> None:
    """So many weeks before the date that the visit would lie in the past is refused."""
    with pytest.raises(UsageError, match="fewer weeks"):
        remind(DEMO, Reminder(first_year_date(DEMO), weeks=60), STAMP)


def test_dateutil_takes_the_zone() -> None:
    """A second library reads the VTIMEZONE as it stands."""
    data = remind(DEMO, Reminder(date(2027, 5, 14)), STAMP)
    zones = tzical(io.StringIO(data.decode().replace("\r\n ", "")))
    (name,) = zones.keys()
    there = zones.get(name)
    for local in (
        datetime(2027, 3, 14, 1, 30),
        datetime(2027, 3, 14, 3, 30),
        datetime(2027, 11, 7, 9),
    ):
        right = local.replace(tzinfo=ZoneInfo(name)).astimezone(UTC)
        assert local.replace(tzinfo=there).astimezone(UTC) == right
