"""Firms: every row gets its firm, and the database holds the walls between them."""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op
from sqlalchemy import Connection

from levelbook.archive.migrations import schema_0001 as old
from levelbook.archive.migrations import schema_0002 as new
from levelbook.archive.migrations.guards import fix, unfix, unwall, wall
from levelbook.errors import UsageError

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_KEPT = ("blobs", "sessions", "attempts", "visit_words")
"""Tables that may go back with rows in them: what they tell is told elsewhere, or is over."""


def upgrade() -> None:
    """Give the rows of the first release the firm of one's own machine."""
    bind = op.get_bind()
    _set_aside(bind)
    new.METADATA.create_all(bind, checkfirst=False)
    if bind.execute(sa.text("SELECT count(*) FROM entries_aside")).scalar():
        made = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        firm = sa.insert(new.FIRMS).values(id=new.LOCAL, name="", created=made)
        bind.execute(firm)
    for table, before in ((new.ENTRIES, old.ENTRIES), (new.VISITS, old.VISITS)):
        columns = [column.name for column in before.columns]
        _bring_back(bind, table, columns, {"firm": new.LOCAL})
    fix(new.ADDED_ONLY)
    if bind.dialect.name == "postgresql":
        wall("firms", "id", every=True)
        for name in new.OWN_FIRM + new.ACROSS:
            wall(name, "firm", every=name in new.ACROSS)


def downgrade() -> None:
    """Go back to one machine's tables, if nothing is lost by it.

    Raises
    ------
    UsageError
        If there is what the first release cannot hold.
    """
    bind = op.get_bind()
    if bind.dialect.name == "postgresql":
        for name in ("firms", *new.OWN_FIRM, *new.ACROSS):
            unwall(name)
    unfix(new.ADDED_ONLY)
    _refuse_loss(bind)
    _set_aside(bind)
    others = [t for t in new.METADATA.sorted_tables if t.name not in ("entries", "visits")]
    new.METADATA.drop_all(bind, tables=others, checkfirst=False)
    old.METADATA.create_all(bind, checkfirst=False)
    for table in (old.ENTRIES, old.VISITS):
        _bring_back(bind, table, [column.name for column in table.columns], {})


def _set_aside(bind: Connection) -> None:
    for name in ("entries", "visits"):
        op.rename_table(name, f"{name}_aside")
    if bind.dialect.name == "postgresql":
        op.execute("ALTER SEQUENCE entries_seq_seq RENAME TO entries_aside_seq")


def _bring_back(
    bind: Connection, table: sa.Table, columns: list[str], given: dict[str, str]
) -> None:
    """Fill a table from the one set aside and drop that; numbering goes on after the last."""
    aside = sa.table(f"{table.name}_aside", *(sa.column(name) for name in columns))
    rows = sa.select(*aside.c, *(sa.literal(value) for value in given.values()))
    bind.execute(sa.insert(table).from_select([*columns, *given], rows))
    op.drop_table(aside.name)
    if bind.dialect.name == "postgresql" and "seq" in table.c:
        op.execute(
            f"SELECT setval('{table.name}_seq_seq', coalesce(max(seq), 0) + 1, false) "
            f"FROM {table.name}"
        )


def _refuse_loss(bind: Connection) -> None:
    for table in new.METADATA.sorted_tables:
        query = sa.select(sa.func.count()).select_from(table)
        if table.name in ("entries", "visits", "firms"):
            query = query.where(table.c["id" if table.name == "firms" else "firm"] != new.LOCAL)
        if table.name not in _KEPT and bind.execute(query).scalar():
            raise UsageError(
                f"table {table.name}",
                "it holds what the first release cannot keep, which going back would lose",
                "stay with this release, or take a backup and restore it into this one later",
            )
