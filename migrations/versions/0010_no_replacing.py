"""SQLite refuses to put a row of the log in another one's place: `INSERT OR REPLACE` deletes without a DELETE.

Revision 0010 on 0009. PostgreSQL knows no such statement: there only an UPDATE replaces, which is refused already.
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
"""What no two rows of a table have in common; beside it stands the number that SQLite gives each row."""


def upgrade() -> None:
    """Look before each insert whether a row is there already."""
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
    """Look no more."""
    if op.get_bind().dialect.name == "sqlite":
        for table in KEYS:
            op.execute(f"DROP TRIGGER {table}_no_replace")
