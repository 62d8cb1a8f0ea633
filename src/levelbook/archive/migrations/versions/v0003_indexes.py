"""Indexes by which the list is narrowed to an inspector, and a kind of deed found in the audit."""

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_INDEXES = {
    "ix_visits_firm_inspector": ("visits", ["firm", "inspector"]),
    "ix_audit_firm_action": ("audit", ["firm", "action", "seq"]),
}


def upgrade() -> None:
    """Make the indexes; no row changes."""
    for name, (table, columns) in _INDEXES.items():
        op.create_index(name, table, columns)


def downgrade() -> None:
    """Drop them; nothing is lost by it."""
    for name, (table, _) in _INDEXES.items():
        op.drop_index(name, table)
