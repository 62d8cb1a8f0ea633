"""Walls that the database itself holds: row-level security, and rows that never change.

The firm of a transaction is the setting ``levelbook.firm``; without it no row is seen.
``FORCE`` holds the owner of the tables to it, too; only a superuser stands above it.
"""

from collections.abc import Iterable

from alembic import op

_FIRM = "current_setting('levelbook.firm', true)"
_REFUSE = """
CREATE FUNCTION levelbook_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  RAISE EXCEPTION 'rows of % are never changed or deleted', TG_TABLE_NAME;
END $$
"""


def wall(table: str, column: str, *, every: bool) -> None:
    """Show the rows of ``table`` to their own firm only (PostgreSQL).

    With ``every``, a use for every firm (``*``) sees all rows.
    """
    rule = f"{column} = {_FIRM}" + (f" OR {_FIRM} = '*'" if every else "")
    op.execute(f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY")
    op.execute(f"ALTER TABLE {table} FORCE ROW LEVEL SECURITY")
    op.execute(f"CREATE POLICY own_firm ON {table} USING ({rule}) WITH CHECK ({rule})")


def unwall(table: str) -> None:
    """Take the wall of ``table`` down."""
    op.execute(f"DROP POLICY own_firm ON {table}")
    op.execute(f"ALTER TABLE {table} NO FORCE ROW LEVEL SECURITY")
    op.execute(f"ALTER TABLE {table} DISABLE ROW LEVEL SECURITY")


def fix(tables: Iterable[str]) -> None:
    """Refuse to change or delete the rows of ``tables``."""
    postgresql = op.get_bind().dialect.name == "postgresql"
    if postgresql:
        op.execute(_REFUSE)
    for table in tables:
        if postgresql:
            op.execute(
                f"CREATE TRIGGER {table}_added_only BEFORE UPDATE OR DELETE OR TRUNCATE "
                f"ON {table} FOR EACH STATEMENT EXECUTE FUNCTION levelbook_refuse()"
            )
            continue
        for what in ("update", "delete"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{what} BEFORE {what} ON {table} BEGIN "
                f"SELECT RAISE(ABORT, 'rows of {table} are never changed or deleted'); END"
            )


def unfix(tables: Iterable[str]) -> None:
    """Let the rows of ``tables`` be changed and deleted."""
    postgresql = op.get_bind().dialect.name == "postgresql"
    for table in tables:
        if postgresql:
            op.execute(f"DROP TRIGGER {table}_added_only ON {table}")
            continue
        for what in ("update", "delete"):
            op.execute(f"DROP TRIGGER {table}_no_{what}")
    if postgresql:
        op.execute("DROP FUNCTION levelbook_refuse()")
