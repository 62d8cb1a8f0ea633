"""A calendar entry for the return visit (iCalendar, RFC 5545)."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from icalendar import Alarm, Calendar, Event

from levelbook import __version__
from levelbook.archive.zones import fill, timezone
from levelbook.book import digest
from levelbook.book.model import Book
from levelbook.errors import UsageError

DURATION = timedelta(hours=2)
NOTICE = timedelta(days=-7)
#: How far round the visit the zone's changes of time are told.
SPAN = timedelta(days=400)


@dataclass(frozen=True, slots=True)
class Reminder:
    """When to come again: ``weeks`` before the first-year date, at a time of that place."""

    first_year: date
    weeks: int = 4
    zone: str = "America/Chicago"
    at: time = time(9, 0)

    @property
    def day(self) -> date:
        """The day of the return visit."""
        return self.first_year - timedelta(weeks=self.weeks)

    @property
    def start(self) -> datetime:
        """The beginning of the return visit, in its zone.

        A time that the clocks skip is taken as if they had not been put forward yet, and of
        one that comes twice the first (RFC 5545, section 3.3.5).
        """
        return datetime.combine(self.day, self.at, zone(self.zone))


def zone(name: str) -> ZoneInfo:
    """Return a time zone by its name in the IANA data base.

    Raises
    ------
    UsageError
        If there is no such zone.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise UsageError(
            "zone", f"there is no time zone {name[:60]!r}", "write it as America/Chicago"
        ) from None


def first_year_date(book: Book) -> date:
    """Return the day one year after the visit, 28 February for 29 February."""
    return year_after(date.fromisoformat(book.visit.date[:10]))


def year_after(day: date) -> date:
    """Return the same day of the next year, 28 February for 29 February."""
    try:
        return day.replace(year=day.year + 1)
    except ValueError:
        return day.replace(year=day.year + 1, day=28)


def remind(book: Book, reminder: Reminder, stamp: datetime) -> bytes:
    """Return the calendar file with the return visit.

    It names the house by its label and nobody. The same book has the same UID, so that a
    calendar that is given a later file moves the entry and adds none.

    Parameters
    ----------
    book : Book
        The earlier visit.
    reminder : Reminder
        When to come again.
    stamp : datetime
        When the file is made, with a zone.

    Raises
    ------
    UsageError
        If the return visit would not be after the earlier one, or the zone is unknown.
    """
    start = reminder.start
    if reminder.day.isoformat() <= book.visit.date[:10]:
        problem = f"the return visit ({reminder.day}) is not after the visit of {book.visit.date}"
        raise UsageError("reminder", problem, "give a later first-year date or fewer weeks")
    calendar = Calendar()
    fill(
        calendar,
        prodid=f"-//levelbook//levelbook {__version__}//EN",
        version="2.0",
        calscale="GREGORIAN",
        method="PUBLISH",
    )
    calendar.add_component(timezone(zone(reminder.zone), start - SPAN, start + SPAN))
    calendar.add_component(_event(book, reminder, start, stamp))
    return bytes(calendar.to_ical())


def _event(book: Book, reminder: Reminder, start: datetime, stamp: datetime) -> Event:
    summary = f"Floor levels again: {book.property.label}"
    event, alarm = Event(), Alarm()
    fill(
        event,
        uid=str(uuid5(NAMESPACE_URL, f"urn:levelbook:return:{digest(book)}")),
        dtstamp=stamp.astimezone(UTC),
        dtstart=start,
        duration=DURATION,
        summary=summary,
        description=_description(book, reminder),
        transp="OPAQUE",
    )
    fill(alarm, action="DISPLAY", description=summary, trigger=NOTICE)
    event.add_component(alarm)
    return event


def _description(book: Book, reminder: Reminder) -> str:
    weeks = f"{reminder.weeks} week{'' if reminder.weeks == 1 else 's'}"
    return (
        f"Repeat visit, {weeks} before {reminder.first_year}. First visit: {book.visit.date}. "
        "Take the return sheet and the same instrument if you can. The terms of a warranty "
        "govern its dates: check them."
    )
