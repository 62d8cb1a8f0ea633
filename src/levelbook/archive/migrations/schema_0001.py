"""The tables of the first release, as they were; this file never changes."""

import sqlalchemy as sa

METADATA = sa.MetaData()
ENTRIES = sa.Table(
    "entries",
    METADATA,
    sa.Column("seq", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("id", sa.String(64), nullable=False, unique=True),
    sa.Column("visit", sa.String(64), nullable=False, index=True),
    sa.Column("body", sa.Text, nullable=False),
    sa.Column("received", sa.String(32), nullable=False),
)
VISITS = sa.Table(
    "visits",
    METADATA,
    sa.Column("id", sa.String(64), primary_key=True),
    sa.Column("label", sa.String(300), nullable=False),
    sa.Column("address", sa.String(300), nullable=False),
    sa.Column("date", sa.String(40), nullable=False, index=True),
    sa.Column("purpose", sa.String(20), nullable=False),
    sa.Column("stations", sa.Integer, nullable=False),
    sa.Column("readings", sa.Integer, nullable=False),
    sa.Column("updated", sa.String(32), nullable=False),
)
