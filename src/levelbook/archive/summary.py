"""A visit's row in the list of visits: what its entries add up to, in a few words."""

from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection

from levelbook.archive.entries import told_entries
from levelbook.archive.record import State, add_up
from levelbook.archive.tables import ENTRIES, VISITS
from levelbook.archive.words import index_visit


def summarise(connection: Connection, firm: str, visit: str, updated: str) -> None:
    """Renew the row of a visit; ``updated`` is when it last changed."""
    query = sa.select(ENTRIES.c.body).where(ENTRIES.c.firm == firm, ENTRIES.c.visit == visit)
    bodies = connection.execute(query).scalars()
    row = summary(add_up(told_entries(bodies))) | {"updated": updated}
    here = sa.and_(VISITS.c.firm == firm, VISITS.c.id == visit)
    changed = sa.case((VISITS.c.state == "released", "changed"), else_=VISITS.c.state)
    if connection.execute(sa.update(VISITS).where(here).values(state=changed, **row)).rowcount == 0:
        connection.execute(sa.insert(VISITS).values(firm=firm, id=visit, **row))
    index_visit(connection, firm, visit)


def summary(state: State) -> dict[str, Any]:
    """Return what the list of visits tells of a visit's state."""
    house, about = state.of("property").get("", {}), state.of("visit").get("", {})
    names = (_text(thing, "serial", 200) or of for of, thing in state.of("instrument").items())
    return {
        "label": _text(house, "label", 300),
        "address": _text(house, "address", 300),
        "date": _text(about, "date", 40),
        "purpose": _text(about, "purpose", 20),
        "stations": len(state.of("station")),
        "readings": sum(not r.get("struck") for r in state.of("reading").values()),
        "inspector": _text(about, "surveyor", 200),
        "instrument": ", ".join(names)[:200].replace("\0", ""),
        "foundation": _text(house, "foundation", 80),
        "year_built": _year(house.get("year_built")),
    }


def _text(fields: Any, name: str, most: int) -> str:  # noqa: ANN401 - as devices sent it
    """Return a field as text; PostgreSQL keeps no NUL."""
    value = fields.get(name)
    return "" if value is None else str(value).replace("\0", "")[:most]


def _year(value: Any) -> int | None:  # noqa: ANN401 - as devices sent it
    good = isinstance(value, int) and not isinstance(value, bool) and 0 < value < 10_000
    return value if good else None
