"""What Alembic runs: the steps, on the connection and in the transaction of `upgrade.py`."""

from alembic import context

from profiler.archive.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    # the caller began a transaction that also takes the lock; SQLite rolls tables back as well
    transactional_ddl=True,
    render_as_batch=True,
)
context.run_migrations()
