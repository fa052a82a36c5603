"""The address of each log-in attempt; recorded attempts can no longer be changed.

From here on a successful log-in is a row of its own, which settles the row of the attempt.

Revision 0014 on 0013.
"""

from __future__ import annotations

from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

_TABLE = "sign_in_attempt"
_INDEXES = {"address": "address, id", "at": "at"}


def upgrade() -> None:
    """Add both columns, and refuse changes to rows."""
    op.execute(f"ALTER TABLE {_TABLE} ADD COLUMN address VARCHAR(64)")
    op.execute(f"ALTER TABLE {_TABLE} ADD COLUMN settles_id INTEGER")
    for name, columns in _INDEXES.items():
        op.execute(f"CREATE INDEX ix_{_TABLE}_{name} ON {_TABLE} ({columns})")
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            f"CREATE TRIGGER {_TABLE}_append_only BEFORE UPDATE OR DELETE ON {_TABLE} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
        op.execute(
            f"CREATE TRIGGER {_TABLE}_no_truncate BEFORE TRUNCATE ON {_TABLE} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
        return
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {_TABLE}_no_{verb.lower()} BEFORE {verb} ON {_TABLE} "
            "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
        )
    # INSERT OR REPLACE deletes the old row without firing the trigger on DELETE.
    op.execute(
        f"CREATE TRIGGER {_TABLE}_no_replace BEFORE INSERT ON {_TABLE} "  # noqa: S608 - the name is above
        f"WHEN EXISTS (SELECT 1 FROM {_TABLE} WHERE rowid = NEW.rowid OR id = NEW.id) "
        "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
    )


def downgrade() -> None:
    """Drop both columns, and let rows be changed."""
    if op.get_bind().dialect.name == "postgresql":
        for name in ("append_only", "no_truncate"):
            op.execute(f"DROP TRIGGER {_TABLE}_{name} ON {_TABLE}")
    else:
        for name in ("no_update", "no_delete", "no_replace"):
            op.execute(f"DROP TRIGGER {_TABLE}_{name}")
    for name in _INDEXES:
        op.execute(f"DROP INDEX ix_{_TABLE}_{name}")
    for column in ("settles_id", "address"):
        op.execute(f"ALTER TABLE {_TABLE} DROP COLUMN {column}")
