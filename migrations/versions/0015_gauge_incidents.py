"""A failed gauge check is an incident just as a break is: rename its table accordingly.

Revision 0015 on 0014.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

_BEFORE, _NOW = "gauge_story", "gauge_incident"
_COLUMNS = "id, recorded_at, device_time, recorded_by_id, supersedes_id, reason, check_id, cause, account"
_CAUSES = (
    "bottomed",
    "chips packed",
    "out of line",
    "hole small or hard",
    "lubricant",
    "wrong style",
    "too fast",
    "clutch tight",
    "worn out",
    "not known",
)
_ON_POSTGRESQL = ("append_only", "no_truncate")
_CONSTRAINTS = (
    "pk_{table}",
    "uq_{table}_supersedes_id",
    "fk_{table}_check_id_gauge_check",
    "fk_{table}_recorded_by_id_person",
    "fk_{table}_supersedes_id_{table}",
    "ck_{table}_cause",
)


def upgrade() -> None:
    """Rename the table and everything named after it."""
    _rename(_BEFORE, _NOW)


def downgrade() -> None:
    """Restore the former name."""
    _rename(_NOW, _BEFORE)


def _rename(old: str, new: str) -> None:
    if op.get_bind().dialect.name == "sqlite":
        _copy(old, new)
        return
    op.execute(f"ALTER TABLE {old} RENAME TO {new}")
    op.execute(f"ALTER INDEX ix_{old}_check_id RENAME TO ix_{new}_check_id")
    for name in _ON_POSTGRESQL:
        op.execute(f"ALTER TRIGGER {old}_{name} ON {new} RENAME TO {new}_{name}")
    for one in _CONSTRAINTS:
        op.execute(f"ALTER TABLE {new} RENAME CONSTRAINT {one.format(table=old)} TO {one.format(table=new)}")


def _copy(old: str, new: str) -> None:
    """SQLite keeps the names of constraints when it renames a table, so the rows move to a new one."""
    op.create_table(
        new,
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.Column("supersedes_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("check_id", sa.Uuid(), nullable=False),
        sa.Column(
            "cause",
            sa.Enum(*_CAUSES, name="cause", native_enum=False, create_constraint=True, length=24),
            nullable=False,
        ),
        sa.Column("account", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["check_id"], ["gauge_check.id"], name=op.f(f"fk_{new}_check_id_gauge_check")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["person.id"], name=op.f(f"fk_{new}_recorded_by_id_person")),
        sa.ForeignKeyConstraint(["supersedes_id"], [f"{new}.id"], name=op.f(f"fk_{new}_supersedes_id_{new}")),
        sa.PrimaryKeyConstraint("id", name=op.f(f"pk_{new}")),
        sa.UniqueConstraint("supersedes_id", name=op.f(f"uq_{new}_supersedes_id")),
    )
    # In the order of their making, so that what a row supersedes is there before it.
    op.execute(f"INSERT INTO {new} ({_COLUMNS}) SELECT {_COLUMNS} FROM {old} ORDER BY rowid")  # noqa: S608
    for verb in ("replace", "update", "delete"):
        op.execute(f"DROP TRIGGER {old}_no_{verb}")
    op.drop_table(old)
    op.create_index(op.f(f"ix_{new}_check_id"), new, ["check_id"])
    is_there = " OR ".join(f"{key} = NEW.{key}" for key in ("rowid", "id", "supersedes_id"))
    op.execute(
        f"CREATE TRIGGER {new}_no_replace BEFORE INSERT ON {new} "  # noqa: S608 - the names are above
        f"WHEN EXISTS (SELECT 1 FROM {new} WHERE {is_there}) "
        "BEGIN SELECT RAISE(ABORT, 'append-only: such a row is there already'); END"
    )
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {new}_no_{verb.lower()} BEFORE {verb} ON {new} "
            "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
        )
