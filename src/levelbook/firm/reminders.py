"""What is due: houses whose first year nears its end, and instruments to be checked.

A house is told until a repeat visit to it is in the list. The first-year date is one year
after the visit; the terms of a warranty govern, so it is a reminder and no more.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

import sqlalchemy as sa
from icalendar import Calendar, Event
from sqlalchemy import Connection

from levelbook import __version__
from levelbook.archive.database import Database
from levelbook.archive.remind import year_after
from levelbook.archive.tables import VISITS
from levelbook.archive.words import words_of
from levelbook.archive.zones import fill
from levelbook.firm.instruments import registered, visit_day
from levelbook.firm.wording import say

USUAL_DAYS, LATE, MOST = 60, 30, 500
LEAD = timedelta(weeks=4)
"""How long before the first-year date a house is visited again, as for a single reminder."""


@dataclass(frozen=True, slots=True)
class HouseDue:
    """A house to visit again: its first visit, the end of its first year, the day to come."""

    visit: str
    label: str
    address: str
    day: str
    first_year: date
    come: date


@dataclass(frozen=True, slots=True)
class InstrumentDue:
    """An instrument to check; ``due`` is ``None`` where it was never checked."""

    id: str
    name: str
    serial: str
    due: date | None


@dataclass(frozen=True, slots=True)
class Due:
    """Everything due, the most pressing first."""

    visits: tuple[HouseDue, ...]
    instruments: tuple[InstrumentDue, ...]


def due(database: Database, firm: str, today: date, days: int = USUAL_DAYS) -> Due:
    """Return what falls due within ``days``, and houses whose date passed up to 30 days ago."""
    with database.look(firm) as connection:
        houses = _houses(connection, firm, today, days)
        known = registered(connection, firm)
    until = today + timedelta(days)
    asked = [(each, each.due(today)) for each in known if each.retired is None]
    told = [
        InstrumentDue(each.id, each.name, each.serial, day)
        for each, day in asked
        if day is None or day <= until
    ]
    told.sort(key=lambda each: (each.due or date.min, each.name))
    return Due(tuple(houses), tuple(told))


def calendar(found: Due, today: date, stamp: datetime) -> bytes:
    """Return what is due as a calendar file (RFC 5545) of whole days; it names nobody."""
    made = Calendar()
    fill(
        made,
        prodid=f"-//levelbook//levelbook {__version__}//EN",
        version="2.0",
        method="PUBLISH",
    )
    for house in found.visits:
        about = say("remind.visit-about", first_year=house.first_year.isoformat(), date=house.day)
        summary = say("remind.visit", label=house.label)
        made.add_component(_event(f"house:{house.visit}", house.come, (summary, about), stamp))
    for each in found.instruments:
        summary = say("remind.instrument", name=each.name)
        about = say("remind.instrument-about")
        made.add_component(_event(f"check:{each.id}", each.due or today, (summary, about), stamp))
    return bytes(made.to_ical())


def _event(mark: str, day: date, told: tuple[str, str], stamp: datetime) -> Event:
    event = Event()
    fill(
        event,
        uid=str(uuid5(NAMESPACE_URL, f"urn:levelbook:due:{mark}")),
        dtstamp=stamp.astimezone(UTC).replace(microsecond=0),
        dtstart=day,
        dtend=day + timedelta(days=1),
        summary=told[0],
        description=told[1],
        transp="TRANSPARENT",
    )
    return event


def _houses(connection: Connection, firm: str, today: date, days: int) -> list[HouseDue]:
    """Return the houses whose first-year date is near, without those visited again."""
    first = today - timedelta(days=LATE + 367)
    last = today + timedelta(days=days - 364)
    columns = (VISITS.c[name] for name in ("id", "label", "address", "date", "purpose"))
    query = sa.select(*columns).where(VISITS.c.firm == firm, VISITS.c.date >= first.isoformat())
    near = query.where(VISITS.c.date < last.isoformat(), VISITS.c.purpose != "repeat")
    again = _visited_again(connection.execute(query.where(VISITS.c.purpose == "repeat")))
    told = []
    for row in connection.execute(near.order_by(VISITS.c.date)):
        day = visit_day(row.date)
        end = None if day is None else year_after(day)
        if end is None or not -LATE <= (end - today).days <= days:
            continue
        if again.get(_house(row), "") <= row.date:
            house = (row.id, row.label, row.address, row.date)
            told.append(HouseDue(*house, end, end - LEAD))
    return told[:MOST]


def _visited_again(rows: Iterable[sa.Row[tuple[str, ...]]]) -> dict[str, str]:
    """Return the day of the last repeat visit by house."""
    last: dict[str, str] = {}
    for row in rows:
        last[_house(row)] = max(row.date, last.get(_house(row), ""))
    return last


def _house(row: sa.Row[tuple[str, ...]]) -> str:
    """Return what two visits to one house share: the words of its address, or of its label."""
    return " ".join(words_of(row.address or row.label))
