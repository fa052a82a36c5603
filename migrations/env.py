"""Alembic's entry point: runs the migrations on the connection that `shopfloor.store.upgrade` hands over."""

from __future__ import annotations

from alembic import context

from shopfloor.store import Base

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=Base.metadata,
    render_as_batch=True,
    transaction_per_migration=False,
)
context.run_migrations()
