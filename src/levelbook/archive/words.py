"""The words of a visit by which it is found, the same in every database.

A word is a run of letters and digits, without accents and without the difference of capitals.
A visit's words stand in its row, each after a space, and one by one in a table of their own,
so that a rare word leads to its visits at once and a common one is met soon in any order.
The words of the inspector's name stand there once more, marked, so that a visit is found by
them alone as quickly as by any word.
"""

import re
import unicodedata
from collections.abc import Iterable, Mapping

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.tables import VISIT_WORDS, VISITS

LONGEST, MOST = 40, 60
PLACES = ("label", "address", "date", "inspector", "instrument", "finding")
"""What is told of a visit that a search looks in."""
MARK = "="
"""Stands before each word of the inspector's name; no word of a search has it."""
_WORD = re.compile(r"[^\W_]+")


def words_of(text: str) -> tuple[str, ...]:
    """Return the words of a text, once each, in its order; at most 60 of at most 40 letters."""
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(c for c in plain if not unicodedata.combining(c)).casefold()
    found = dict.fromkeys(word[:LONGEST] for word in _WORD.findall(plain))
    return tuple(found)[:MOST]


def spaced(words: Iterable[str], most: int = 1000) -> str:
    """Return words in one text, each after a space, as many as there is room for."""
    text = "".join(f" {word}" for word in words)
    return text if len(text) <= most else text[: text.rindex(" ", 0, most + 1)]


def marked(name: str) -> tuple[str, ...]:
    """Return the words of an inspector's name as they are marked among a visit's words."""
    return tuple(dict.fromkeys(f"{MARK}{word}"[:LONGEST] for word in words_of(name)))


def listed(row: Mapping[str, str]) -> str:
    """Return the words by which a visit is found in one text, from what the list has of it."""
    told = words_of(" ".join(row[place] for place in PLACES))
    return spaced((*marked(row["inspector"]), *told))


def index_visit(connection: Connection, firm: str, visit: str) -> None:
    """Renew the words by which a visit of the list is found; nothing is done if they stand."""
    here = sa.and_(VISITS.c.firm == firm, VISITS.c.id == visit)
    columns = (VISITS.c[name] for name in ("words", *PLACES))
    row = connection.execute(sa.select(*columns).where(here)).one()
    told = listed(row._asdict())
    if row.words == told:
        return
    connection.execute(sa.update(VISITS).where(here).values(words=told))
    own = sa.and_(VISIT_WORDS.c.firm == firm, VISIT_WORDS.c.visit == visit)
    connection.execute(sa.delete(VISIT_WORDS).where(own))
    rows = [{"firm": firm, "visit": visit, "word": word} for word in told.split()]
    if rows:
        connection.execute(sa.insert(VISIT_WORDS), rows)
