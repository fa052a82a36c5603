"""SQLite refuses to replace rows of the log: `INSERT OR REPLACE` deletes without a DELETE.

Revision 0010 on 0009. PostgreSQL has no such statement: there only UPDATE replaces, which is refused already.
"""

from __future__ import annotations

from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

_CORRECTED = ("id", "supersedes_id")
KEYS = {
    "run": _CORRECTED,
    "gauge_check": _CORRECTED,
    "incident": _CORRECTED,
    "photograph": ("id",),
    "stock_movement": _CORRECTED,
    "cancellation": ("entry_id",),
}
"""The unique keys of each table, besides the rowid that SQLite gives each row."""


def upgrade() -> None:
    """Check before each insert whether the row exists already."""
    if op.get_bind().dialect.name != "sqlite":
        return
    for table, keys in KEYS.items():
        is_there = " OR ".join(f"{key} = NEW.{key}" for key in ("rowid", *keys))
        op.execute(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "  # noqa: S608 - the names are above
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {is_there}) "
            "BEGIN SELECT RAISE(ABORT, 'append-only: such a row is there already'); END"
        )


def downgrade() -> None:
    """Drop the checks."""
    if op.get_bind().dialect.name == "sqlite":
        for table in KEYS:
            op.execute(f"DROP TRIGGER {table}_no_replace")
