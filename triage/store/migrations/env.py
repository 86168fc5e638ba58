"""Run migrations on the connection that is given; no address is read from anywhere."""

from alembic import context

from triage.store.tables.every import METADATA

connection = context.config.attributes["connection"]
context.configure(connection=connection, target_metadata=METADATA, render_as_batch=True)
context.run_migrations()
