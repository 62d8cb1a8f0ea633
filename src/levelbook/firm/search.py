"""The list of visits: searched by words, narrowed by filters, paged by key.

A search finds words by their beginnings in label, address, date, inspector, instrument and
finding; a day in it, as people write days, is held against the day of the visit. A rare word
leads to its visits by the table of words; where every word is common, visits are gone through
from the last written on, and the page is soon full. Each way gives the same visits in the same
order. An inspector is found by the beginnings of the words of the name, too.
"""

import base64
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, get_args

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import Database
from levelbook.archive.tables import VISIT_WORDS, VISITS
from levelbook.archive.words import marked, words_of
from levelbook.errors import UsageError
from levelbook.findings.model import Outcome
from levelbook.firm.days import read_days

RARE = 500
"""A word with more visits than this is common."""
MOST_WORDS = 8
MOST_NAMES = 500
"""So many names of inspectors are told to choose from."""
OUTCOMES: tuple[str, ...] = get_args(Outcome)
_LAST = "\U0010ffff"


@dataclass(frozen=True, slots=True)
class Query:
    """What is looked for; an empty text asks for nothing.

    ``inspector`` and ``finding`` are words by their beginnings; ``start`` and ``end`` are the
    first and the last day of the visit.
    """

    search: str = ""
    state: str = ""
    inspector: str = ""
    finding: str = ""
    instrument: str = ""
    start: str = ""
    end: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A visit in the list."""

    id: str
    label: str
    address: str
    date: str
    purpose: str
    stations: int
    readings: int
    updated: str
    inspector: str
    instrument: str
    state: str
    finding: str
    found: str


@dataclass(frozen=True, slots=True)
class Found:
    """A page of the list, and the key of the next page, empty if this is the last.

    ``days`` are the days and months that were read out of the search.
    """

    rows: tuple[Row, ...]
    next: str
    days: tuple[str, ...] = ()


def find_visits(database: Database, firm: str, query: Query, limit: int) -> Found:
    """Return a page of a firm's visits, the last written first.

    Raises
    ------
    UsageError
        If the key of the page is none of ours.
    """
    text, days = read_days(query.search)
    words = (*words_of(text)[:MOST_WORDS], *marked(query.inspector)[:MOST_WORDS])
    with database.look(firm) as connection:
        rare = _rarest(connection, firm, words)
        asked = _asked(database, firm, query, words)
        if days:
            asked.append(sa.or_(*map(_on, days)))
        if rare is not None:
            asked.append(VISITS.c.id.in_(rare))
        columns = (VISITS.c[name] for name in Row.__slots__)
        chosen = sa.select(*columns).where(*asked)
        chosen = chosen.order_by(VISITS.c.updated.desc(), VISITS.c.id.desc()).limit(limit + 1)
        rows = [Row(*row) for row in connection.execute(chosen)] if rare != [] else []
    page = tuple(rows[:limit])
    return Found(page, _key(page[-1]) if len(rows) > limit and page else "", days)


def inspectors(database: Database, firm: str) -> tuple[str, ...]:
    """Return the names of inspectors in a firm's visits by the alphabet, at most 500.

    The index gives one name after the other, so that it takes no look at every visit.
    """
    name = VISITS.c.inspector
    least = sa.select(sa.func.min(name)).where(VISITS.c.firm == firm)
    names = sa.select(least.where(name > "").scalar_subquery().label("name")).cte(recursive=True)
    after = least.where(name > names.c.name).correlate(names).scalar_subquery()
    names = names.union_all(sa.select(after).where(names.c.name.is_not(None)))
    told = sa.select(names.c.name).where(names.c.name.is_not(None)).limit(MOST_NAMES)
    with database.look(firm) as connection:
        found = connection.execute(told).scalars().all()
    return tuple(sorted(found, key=words_of))


def _asked(
    database: Database, firm: str, query: Query, words: Sequence[str]
) -> list[sa.ColumnElement[bool]]:
    """Return what a visit must fulfil."""
    asked: list[sa.ColumnElement[bool]] = [VISITS.c.firm == firm]
    if query.state:
        asked.append(VISITS.c.state == query.state)
    if query.finding:
        asked.append(VISITS.c.finding.in_(_outcomes(query.finding)))
    if query.start:
        asked.append(VISITS.c.date >= query.start)
    if query.end:
        asked.append(VISITS.c.date < query.end + _LAST)
    place = sa.func.strpos if database.postgresql else sa.func.instr
    asked += [place(VISITS.c.words, f" {word}") > 0 for word in words]
    if query.instrument:
        asked.append(place(VISITS.c.instrument, query.instrument) > 0)
    if query.after:
        updated, visit = _read_key(query.after)
        key = sa.tuple_(VISITS.c.updated, VISITS.c.id)
        asked.append(key < sa.tuple_(sa.literal(updated), sa.literal(visit)))
    return asked


def _on(day: str) -> sa.ColumnElement[bool]:
    """Return what a visit of a day or month fulfils."""
    return sa.and_(VISITS.c.date >= day, VISITS.c.date < day + _LAST)


def _outcomes(text: str) -> list[str]:
    """Return the findings that have these words, by their beginnings; else the text itself."""
    parts = words_of(text)
    fits = [o for o in OUTCOMES if all(any(w.startswith(p) for w in words_of(o)) for p in parts)]
    return fits if parts and fits else [text]


def _rarest(connection: Connection, firm: str, words: Sequence[str]) -> list[str] | None:
    """Return the visits of the rarest word; ``None`` if every word is common or there is none."""
    best: list[str] | None = None
    for word in words:
        query = sa.select(VISIT_WORDS.c.visit).where(VISIT_WORDS.c.firm == firm)
        query = query.where(VISIT_WORDS.c.word >= word, VISIT_WORDS.c.word < word + _LAST)
        found = list(connection.execute(query.limit(RARE + 1)).scalars())
        if len(found) <= RARE and (best is None or len(found) < len(best)):
            best = found
    return best


def _key(row: Row) -> str:
    told = json.dumps([row.updated, row.id]).encode()
    return base64.urlsafe_b64encode(told).decode().rstrip("=")


def _read_key(text: str) -> tuple[str, str]:
    try:
        told: Any = json.loads(base64.urlsafe_b64decode(text[:400] + "=" * (-len(text) % 4)))
    except ValueError:
        told = None
    good = isinstance(told, list) and len(told) == 2 and all(isinstance(t, str) for t in told)
    if not good or not all(t.isprintable() for t in told):
        raise UsageError("after", "this is no key of a page", "take 'next' of the page before")
    return told[0], told[1]
