"""What Alembic runs the steps by: the connection that it is given, in one transaction."""

from alembic import context

from levelbook.archive.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,
    compare_server_default=True,
)
with context.begin_transaction():
    context.run_migrations()
