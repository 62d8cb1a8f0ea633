"""The schema of the first release: the entries and visits of one machine."""

from alembic import op

from levelbook.archive.migrations.schema_0001 import METADATA

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the first tables."""
    METADATA.create_all(op.get_bind(), checkfirst=False)


def downgrade() -> None:
    """Drop everything: only an empty database goes back so far."""
    METADATA.drop_all(op.get_bind(), checkfirst=False)
