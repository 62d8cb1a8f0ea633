"""A time zone as a calendar file tells it (RFC 5545, section 3.6.5).

Each change of time within the span told is one observance. It begins at the moment of the
change, written in the time that was valid until then, as the standard asks.
"""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Component, Timezone, TimezoneDaylight, TimezoneStandard

STEP = timedelta(hours=6)
SECOND = timedelta(seconds=1)


def timezone(zone: ZoneInfo, first: datetime, last: datetime) -> Timezone:
    """Return the component of a zone, right from ``first`` to ``last``."""
    told = Timezone()
    fill(told, tzid=str(zone))
    begin = first.astimezone(UTC).replace(microsecond=0)
    told.add_component(_observance(zone, begin, begin))
    for change in changes(zone, begin, last.astimezone(UTC)):
        told.add_component(_observance(zone, change - SECOND, change))
    return told


def changes(zone: ZoneInfo, first: datetime, last: datetime) -> Iterator[datetime]:
    """Yield the moments (UTC) after ``first`` and up to ``last`` at which the time changes.

    Two changes within six hours are not told apart; no zone has had such.
    """
    early = first
    while early < last:
        late = min(early + STEP, last)
        if _rule(zone, early) != _rule(zone, late):
            yield _moment(zone, early, late)
        early = late


def _moment(zone: ZoneInfo, early: datetime, late: datetime) -> datetime:
    """Return the first second of the new time, by halving."""
    old = _rule(zone, early)
    while late - early > SECOND:
        middle = early + (late - early) // 2
        middle = middle.replace(microsecond=0)
        early, late = (middle, late) if _rule(zone, middle) == old else (early, middle)
    return late


def _rule(zone: ZoneInfo, moment: datetime) -> tuple[timedelta | None, str | None]:
    local = moment.astimezone(zone)
    return local.utcoffset(), local.tzname()


def _observance(zone: ZoneInfo, before: datetime, begin: datetime) -> Component:
    """Return the time that is valid from ``begin``; ``before`` is a moment of the time before."""
    old, new = before.astimezone(zone), begin.astimezone(zone)
    kind = TimezoneDaylight if new.dst() else TimezoneStandard
    told: Component = kind()
    fill(
        told,
        dtstart=(begin + (old.utcoffset() or timedelta())).replace(tzinfo=None),
        tzoffsetfrom=old.utcoffset(),
        tzoffsetto=new.utcoffset(),
        tzname=new.tzname(),
    )
    return told


def fill(component: Component, **properties: object) -> None:
    """Give a component its properties, in order."""
    for name, value in properties.items():
        component.add(name, value)
