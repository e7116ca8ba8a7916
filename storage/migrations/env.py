"""Alembic's entry: runs the steps on the connection that `storage.schema` hands over."""

from alembic import context

from storage.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    # Both databases undo a change of the schema with its transaction. Ours is already
    # open and holds the lock, so Alembic must not end it after each step.
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
