"""What was written at each reading: times, what was struck, what stands instead."""

import re
from datetime import date, datetime, time

from levelbook.book.draft import Draft
from levelbook.book.faults import Collector, Step, show
from levelbook.book.model import Instrument, Reading, Visit

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_YEARS = range(1900, 2201)


def check_dates(draft: Draft, found: Collector) -> None:
    """Tell days that are not ISO 8601 calendar dates of our time."""
    visit = draft.part("visit", Visit)
    if visit is not None:
        _check_day(visit.date, ("visit", "date"), found)
    for i, instrument in draft.each("instruments", Instrument):
        for k, check in enumerate(instrument.checks):
            _check_day(check.date, ("instruments", i, "checks", k, "date"), found)


def check_times(draft: Draft, found: Collector) -> None:
    """Tell times that are not ISO 8601, and setups with times both with and without a zone."""
    zoned: dict[str, tuple[int, bool]] = {}
    for i, reading in draft.each("readings", Reading):
        if reading.time is None:
            continue
        moment = parse_time(reading.time)
        place = ("readings", i, "time")
        if moment is None:
            remedy = "write day and time, as 2026-03-02T10:15, or the time alone, as 10:15"
            found.add("time", place, f"{show(reading.time)} is not a time", remedy)
            continue
        zone = moment.tzinfo is not None
        first, other = zoned.setdefault(reading.setup, (i, zone))
        if zone != other:
            here, there = ("a zone", "none") if zone else ("no zone", "one")
            problem = f"has {here}, while readings[{first}] of the same setup has {there}"
            found.add("time-zone", place, problem, "give all times of a setup alike")


def parse_time(text: str) -> datetime | time | None:
    """Return a day and time, or a time of day alone, from ISO 8601; ``None`` if it is neither."""
    try:
        if _DAY.match(text) is None or text[10:11] not in ("T", " "):
            return time.fromisoformat(text) if ":" in text else None
        moment = datetime.fromisoformat(text) if ":" in text else None
    except ValueError:
        return None
    return moment if moment is not None and moment.year in _YEARS else None


def check_struck(draft: Draft, found: Collector) -> None:
    """Tell replacements of readings that cannot be meant."""
    readings = draft.by_id("readings", Reading)
    for i, reading in draft.each("readings", Reading):
        if reading.instead is None:
            continue
        place = ("readings", i, "instead")
        if not reading.struck:
            remedy = 'write "struck": true as well, or remove it'
            found.add("instead", place, "only a struck reading has another instead", remedy)
        if reading.instead == reading.id:
            found.add("instead", place, "names the reading itself", "name the one that replaces it")
        elif reading.instead in readings:
            other = readings[reading.instead][1]
            if other.station != reading.station:
                problem = f"{show(other.id)} is at station {show(other.station)}, not at "
                remedy = "name a reading at the same station"
                found.add("instead", place, problem + show(reading.station), remedy)
    _check_circles(readings, found)


def _check_circles(readings: dict[str, tuple[int, Reading]], found: Collector) -> None:
    """Tell readings that replace each other in a circle, once a circle."""
    done: set[str] = set()
    for start in readings:
        path: dict[str, None] = {}
        name: str | None = start
        while name in readings and name not in done and name not in path:
            path[name] = None
            name = readings[name][1].instead
        if name in path and readings[name][1].instead != name:
            place: tuple[Step, ...] = ("readings", readings[name][0], "instead")
            problem = f"the readings from {show(name)} on replace each other in a circle"
            found.add("instead", place, problem, "let the last one stand")
        done.update(path)


def _check_day(text: str, place: tuple[Step, ...], found: Collector) -> None:
    """Tell a text that is not a calendar date."""
    try:
        day = date.fromisoformat(text) if _DAY.fullmatch(text) else None
    except ValueError:
        day = None
    if day is None or day.year not in _YEARS:
        problem = f"{show(text)} is not a date of {_YEARS[0]} to {_YEARS[-1]}"
        found.add("date", place, problem, "write year, month and day, as 2026-03-02")
