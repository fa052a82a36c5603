"""Alembic migrations; run them with `shopfloor upgrade`."""
