"""A failed gauge check is an incident just as a break is: rename its table accordingly.

Revision 0015 on 0014.
"""

from __future__ import annotations

from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

_BEFORE, _NOW = "gauge_story", "gauge_incident"
_ON_SQLITE = {
    "no_replace": "BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE rowid = NEW.rowid OR id = NEW.id "
    "OR supersedes_id = NEW.supersedes_id) BEGIN SELECT RAISE(ABORT, 'append-only: such a row is there already'); END",
    "no_update": "BEFORE UPDATE ON {table} BEGIN SELECT RAISE(ABORT, 'append-only'); END",
    "no_delete": "BEFORE DELETE ON {table} BEGIN SELECT RAISE(ABORT, 'append-only'); END",
}
_ON_POSTGRESQL = ("append_only", "no_truncate")
_CONSTRAINTS = (
    "pk_{table}",
    "uq_{table}_supersedes_id",
    "fk_{table}_check_id_gauge_check",
    "fk_{table}_recorded_by_id_person",
    "fk_{table}_supersedes_id_{table}",
)


def upgrade() -> None:
    """Rename the table and everything named after it."""
    _rename(_BEFORE, _NOW)


def downgrade() -> None:
    """Restore the former name."""
    _rename(_NOW, _BEFORE)


def _rename(old: str, new: str) -> None:
    op.execute(f"DROP INDEX ix_{old}_check_id")
    if op.get_bind().dialect.name == "sqlite":
        for name in _ON_SQLITE:
            op.execute(f"DROP TRIGGER {old}_{name}")
        op.execute(f"ALTER TABLE {old} RENAME TO {new}")
        for name, body in _ON_SQLITE.items():
            op.execute(f"CREATE TRIGGER {new}_{name} {body.format(table=new)}")
    else:
        op.execute(f"ALTER TABLE {old} RENAME TO {new}")
        for name in _ON_POSTGRESQL:
            op.execute(f"ALTER TRIGGER {old}_{name} ON {new} RENAME TO {new}_{name}")
        for one in _CONSTRAINTS:
            op.execute(f"ALTER TABLE {new} RENAME CONSTRAINT {one.format(table=old)} TO {one.format(table=new)}")
    op.execute(f"CREATE INDEX ix_{new}_check_id ON {new} (check_id)")
