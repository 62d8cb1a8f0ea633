"""The register of instruments: their checks, when the next is due, and what was overdue when.

An instrument is due ``check_days`` after its last check. A visit's instrument is found in the
register by its serial number, or where it has none by its name. Nothing is taken from a
reading for an overdue instrument: it is said, and the reader judges.
"""

import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database
from levelbook.archive.tables import CHECKS, INSTRUMENTS
from levelbook.archive.words import words_of
from levelbook.book.model import Book, Instrument
from levelbook.errors import UsageError
from levelbook.firm import audit
from levelbook.firm.refusals import missing
from levelbook.firm.roles import Who
from levelbook.firm.wording import say, told_day

LONGEST_INTERVAL = 3650
UNITS = ("in", "mm")


@dataclass(frozen=True, slots=True)
class Check:
    """A check of an instrument against a known height step; ``deviation`` in ``unit``."""

    date: str
    deviation: float
    unit: str
    by: str
    note: str


@dataclass(frozen=True, slots=True)
class Registered:
    """An instrument of the register with its checks, the latest last."""

    id: str
    name: str
    serial: str
    check_days: int
    retired: str | None
    checks: tuple[Check, ...]

    def due(self, by: date) -> date | None:
        """Return when the check after the last one up to the day ``by`` is due, if there is one."""
        before = [each.date for each in self.checks if each.date <= by.isoformat()]
        last = max(before, default=None)
        return None if last is None else date.fromisoformat(last) + timedelta(self.check_days)

    def overdue(self, day: date) -> bool:
        """Tell whether on ``day`` no check was recent enough, or there had been none."""
        due = self.due(day)
        return due is None or due < day


def register(database: Database, firm: str) -> tuple[Registered, ...]:
    """Return all instruments of a firm by name, retired ones last."""
    with database.look(firm) as connection:
        return registered(connection, firm)


def registered(connection: Connection, firm: str) -> tuple[Registered, ...]:
    """Return all instruments of a firm, in the caller's transaction."""
    checks: dict[str, list[Check]] = {}
    columns = [CHECKS.c[name] for name in ("instrument", *Check.__slots__)]
    query = sa.select(*columns).where(CHECKS.c.firm == firm).order_by(CHECKS.c.date, CHECKS.c.at)
    for instrument, *rest in connection.execute(query):
        checks.setdefault(instrument, []).append(Check(*rest))
    names = ("id", "name", "serial", "check_days", "retired")
    rows = sa.select(*(INSTRUMENTS.c[name] for name in names)).where(INSTRUMENTS.c.firm == firm)
    found = [
        Registered(**row._asdict(), checks=tuple(checks.get(row.id, ())))
        for row in connection.execute(rows)
    ]
    return tuple(sorted(found, key=lambda i: (i.retired is not None, i.name.casefold(), i.id)))


def add(database: Database, who: Who, name: str, serial: str, check_days: int) -> str:
    """Add an instrument and return its id.

    Raises
    ------
    UsageError
        If the name is empty, another in use has the serial number, or the interval is none.
    """
    name, serial = name.strip(), serial.strip()
    if not 1 <= len(name) <= 200 or len(serial) > 100:
        raise UsageError("name", "a name of 1 to 200 characters is needed", "give it one")
    _check_interval(check_days)
    made = secrets.token_hex(8)
    with database.use(who.firm) as connection:
        database.hold(connection, f"{who.firm}/instruments")
        for other in registered(connection, who.firm):
            if serial and other.retired is None and _same(other.serial, serial):
                remedy = "use that one, or retire it first"
                raise UsageError("serial", f"{other.name!r} has this serial number", remedy)
        row = {"id": made, "name": name, "serial": serial, "check_days": check_days}
        connection.execute(sa.insert(INSTRUMENTS).values(firm=who.firm, **row))
        audit.note(connection, who, "instrument added", made)
    return made


def add_check(database: Database, who: Who, instrument: str, check: Check, at: str) -> None:
    """Add a check of an instrument; it stays as it is.

    Raises
    ------
    MissingError
        If there is no such instrument.
    UsageError
        If the day is none or after today, or the unit is unknown.
    """
    day = _day(check.date)
    if day.isoformat() > at[:10]:
        raise UsageError("date", "this day is yet to come", "give the day of the check")
    if check.unit not in UNITS or not -1000 < check.deviation < 1000:
        raise UsageError("deviation", "this is no deviation", "give a number in in or mm")
    if len(check.note) > 1000:
        raise UsageError("note", "this is too long", "say it in 1000 characters")
    with database.use(who.firm) as connection:
        _here(connection, who.firm, instrument)
        row = {"date": day.isoformat(), "deviation": check.deviation, "unit": check.unit}
        row |= {"by": who.person, "note": check.note, "at": at, "id": secrets.token_hex(16)}
        connection.execute(sa.insert(CHECKS).values(firm=who.firm, instrument=instrument, **row))
        audit.note(connection, who, "instrument checked", instrument, at=at)


def change(
    database: Database,
    who: Who,
    instrument: str,
    retired: str | None,
    check_days: int | None,
    *,
    keep: bool = False,
) -> None:
    """Set the day an instrument was retired (``None``: it is in use), and its interval if given.

    With ``keep``, only the interval is set.

    Raises
    ------
    MissingError
        If there is no such instrument.
    UsageError
        If the interval or the day is none.
    """
    day = None if retired is None else _day(retired).isoformat()
    values: dict[str, object] = {} if keep else {"retired": day}
    if check_days is not None:
        _check_interval(check_days)
        values["check_days"] = check_days
    with database.use(who.firm) as connection:
        _here(connection, who.firm, instrument)
        here = sa.and_(INSTRUMENTS.c.firm == who.firm, INSTRUMENTS.c.id == instrument)
        if values:
            connection.execute(sa.update(INSTRUMENTS).where(here).values(**values))
        audit.note(connection, who, "instrument changed", instrument, changed=values)


def match(instrument: Instrument, known: Iterable[Registered]) -> Registered | None:
    """Return the registered instrument that a visit's is: by serial number, else by name.

    One with another serial number is another instrument, whatever it is called; of two with
    one number the one in use counts.
    """
    every = sorted(known, key=lambda each: each.retired is not None)
    serial = instrument.serial or ""
    for each in every:
        if _same(each.serial, serial):
            return each
    for each in every:
        if not (each.serial and serial) and (_same(each.name, serial or instrument.id)):
            return each
    return None


def cautions(book: Book, known: Iterable[Registered]) -> tuple[str, ...]:
    """Return a sentence for each used instrument that was overdue, retired or not registered.

    Nothing is said by a firm that keeps no register.
    """
    every, told = tuple(known), []
    day = visit_day(book.visit.date)
    used = {setup.instrument for setup in book.setups}
    for instrument in book.instruments:
        if not every or day is None or instrument.id not in used:
            continue
        told += _caution(instrument, match(instrument, every), day)
    return tuple(told)


def visit_day(text: str) -> date | None:
    """Return the day of a visit as written, ``None`` where it is none."""
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        return None


def _caution(instrument: Instrument, found: Registered | None, day: date) -> list[str]:
    name = instrument.serial or instrument.id
    if found is None:
        return [say("instrument.unknown", name=name)]
    if found.retired is not None and found.retired < day.isoformat():
        return [say("instrument.retired", name=found.name, day=told_day(found.retired))]
    if not found.overdue(day):
        return []
    due, told = found.due(day), told_day(day.isoformat())
    if due is None:
        return [say("instrument.unchecked", name=found.name, day=told)]
    return [say("instrument.overdue", name=found.name, day=told, due=told_day(due.isoformat()))]


def _same(one: str, other: str) -> bool:
    """Tell whether two names are the same but for spaces, signs and capitals."""
    first, second = "".join(words_of(one)), "".join(words_of(other))
    return bool(first) and first == second


def _here(connection: Connection, firm: str, instrument: str) -> None:
    query = sa.select(INSTRUMENTS.c.id)
    here = query.where(INSTRUMENTS.c.firm == firm, INSTRUMENTS.c.id == instrument)
    if connection.execute(here).scalar() is None:
        raise missing(instrument, "instrument")


def _check_interval(days: int) -> None:
    if not 1 <= days <= LONGEST_INTERVAL:
        problem = f"an interval is 1 to {LONGEST_INTERVAL} days"
        raise UsageError("check_days", problem, "give the days between two checks")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UsageError("date", "this is not a day", "write it as 2026-05-14") from None
