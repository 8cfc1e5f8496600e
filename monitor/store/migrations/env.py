"""Read by alembic: runs the steps on the connection that ``monitor.store.migrate`` hands over."""

from alembic import context

from monitor.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    # SQLite changes a table by copying it.
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
