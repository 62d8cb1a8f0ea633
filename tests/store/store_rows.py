"""Rows to fill any table of the store with, and entries as devices make them."""

from typing import Any

import sqlalchemy as sa

from levelbook.archive.database import Database
from levelbook.archive.record import Entry
from levelbook.archive.tables import LOCAL
from levelbook.firm.search import Query, Row, find_visits

VISIT = "visit-01"


def row(table: sa.Table, firm: str, number: int = 1) -> dict[str, Any]:
    """Return a row that a table takes; ``number`` tells rows of one firm apart."""
    made: dict[str, Any] = {}
    for column in table.columns:
        if column.name == "seq":
            continue
        if isinstance(column.type, sa.String):
            made[column.name] = f"{firm}-{number}"[: column.type.length or 40]
        elif isinstance(column.type, sa.Boolean):
            made[column.name] = False
        else:
            made[column.name] = number
    key = "id" if table.name == "firms" else "firm"
    return made | ({key: firm} if key in table.c else {})


def listed(database: Database, firm: str = LOCAL, search: str = "") -> tuple[Row, ...]:
    """Return a firm's visits as the list shows them, the last written first."""
    return find_visits(database, firm, Query(search), 500).rows


def entry(number: int, *, device: str = "device01", visit: str = VISIT, **changes: Any) -> Entry:
    """Return an entry, by default one reading."""
    fields = {
        "id": f"entry-{device}-{number:04d}",
        "visit": visit,
        "clock": f"{1_800_000_000_000 + number:016d}-0000-{device}",
        "device": device,
        "author": "A",
        "made": "2027-01-15T08:00:00Z",
        "do": "set",
        "kind": "reading",
        "of": f"r-{device}-{number}",
        "fields": {"value": str(number)},
    }
    return Entry(**(fields | changes))
