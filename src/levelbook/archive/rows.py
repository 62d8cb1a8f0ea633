"""The rows of an archive as lines of JSON, the same from every database, and back.

Rows come in one order, by their keys, so that equal archives give equal bytes. What only
serves this moment or follows from the rest is left out: sessions and counts of tries, so that
everyone signs in anew, and the words of the search.
"""

import json
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.database import EVERY_FIRM, Database
from levelbook.archive.tables import FIRMS, METADATA, VISIT_WORDS, VISITS
from levelbook.errors import DamagedError

LEFT_OUT = ("sessions", "attempts", "visit_words")
KEPT = tuple(table for table in METADATA.sorted_tables if table.name not in LEFT_OUT)
"""The tables whose rows make an archive; every firm has a share of each."""
AT_ONCE = 500
LONGEST = 8_000_000
"""Bytes of one line; the largest entry takes some 200,000."""

Row = Mapping[str, Any]


def firm_ids(database: Database, connection: Connection) -> tuple[str, ...]:
    """Return the ids of all firms of a database, in order."""
    database.name_firm(connection, EVERY_FIRM)
    return tuple(sorted(connection.execute(sa.select(FIRMS.c.id)).scalars()))


def read_rows(
    connection: Connection, table: sa.Table, firm: str, *where: sa.ColumnElement[bool]
) -> Iterator[dict[str, Any]]:
    """Yield a firm's rows of a table in the order of their keys.

    Only a few are in memory at a time, unless ``where`` asks for some of them.
    """
    query = sa.select(table).where(owner(table) == firm, *where)
    order = (_by_code(connection, column) for column in table.primary_key.columns)
    query = query.order_by(*order)
    if not where:
        query = query.execution_options(yield_per=AT_ONCE)
    with connection.execute(query) as found:
        for row in found.mappings():
            yield dict(row)


def write_rows(connection: Connection, table: sa.Table, rows: Iterable[Row]) -> int:
    """Add rows to a table, with the words that visits are found by; return how many."""
    count = 0
    rows = iter(rows)
    while some := list(islice(rows, AT_ONCE)):
        connection.execute(sa.insert(table), [dict(row) for row in some])
        count += len(some)
        if table is VISITS:
            _write_words(connection, some)
    return count


def owner(table: sa.Table) -> sa.Column[Any]:
    """Return the column that tells which firm a row belongs to."""
    return table.c.id if table is FIRMS else table.c.firm


def to_line(row: Row) -> bytes:
    """Return a row as one line of JSON."""
    told = json.dumps(dict(row), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return told.encode() + b"\n"


def from_line(line: bytes, table: sa.Table, firm: str, place: str) -> dict[str, Any]:
    """Return the row of a line.

    Raises
    ------
    DamagedError
        If it is no row of this table and firm; ``place`` says where it stands.
    """
    try:
        row = json.loads(line)
    except ValueError:
        row = None
    if not isinstance(row, dict) or row.keys() != set(table.c.keys()):
        raise DamagedError(place, f"this is no row of the table {table.name}", "use another copy")
    if row[owner(table).name] != firm:
        raise DamagedError(place, "this row is another firm's", "use another copy")
    return row


def _write_words(connection: Connection, visits: Iterable[Row]) -> None:
    rows = [
        {"firm": visit["firm"], "visit": visit["id"], "word": word}
        for visit in visits
        for word in dict.fromkeys(visit["words"].split())
    ]
    if rows:
        connection.execute(sa.insert(VISIT_WORDS), rows)


def _by_code(connection: Connection, column: sa.Column[Any]) -> sa.ColumnElement[Any]:
    """Return an order by the codes of characters, which no setting of a database changes."""
    text = isinstance(column.type, sa.String)
    postgresql = connection.dialect.name == "postgresql"
    return sa.collate(column, "C") if text and postgresql else column
