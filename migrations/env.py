"""Alembic environment: the caller hands over a connection; nothing is configured here."""

from alembic import context
from evidence.store.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    include_name=lambda name, kind, _parents: not (kind == "table" and name is not None and name.startswith("search")),
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
