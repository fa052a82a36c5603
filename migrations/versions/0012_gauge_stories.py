"""Why a tap failed the gauge: the quality lead's report on a failed check, beside the log's own evidence.

Revision 0012 on 0011.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

_TABLE = "gauge_story"
_CAUSE = sa.Enum(
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
    name="cause",
    native_enum=False,
    create_constraint=True,
    length=24,
)


def upgrade() -> None:
    """Create the table; no check has a report yet."""
    op.create_table(
        _TABLE,
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.Column("supersedes_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("check_id", sa.Uuid(), nullable=False),
        sa.Column("cause", _CAUSE, nullable=False),
        sa.Column("account", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["check_id"], ["gauge_check.id"], name=op.f("fk_gauge_story_check_id_gauge_check")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["person.id"], name=op.f("fk_gauge_story_recorded_by_id_person")),
        sa.ForeignKeyConstraint(
            ["supersedes_id"], ["gauge_story.id"], name=op.f("fk_gauge_story_supersedes_id_gauge_story")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gauge_story")),
        sa.UniqueConstraint("supersedes_id", name=op.f("uq_gauge_story_supersedes_id")),
    )
    op.create_index(op.f("ix_gauge_story_check_id"), _TABLE, ["check_id"])
    _append_only()


def downgrade() -> None:
    """Drop the reports; the checks stay."""
    op.drop_table(_TABLE)


def _append_only() -> None:
    """Make the database itself refuse to change, delete or replace rows, as for all of the log."""
    if op.get_bind().dialect.name == "sqlite":
        is_there = " OR ".join(f"{key} = NEW.{key}" for key in ("rowid", "id", "supersedes_id"))
        op.execute(
            f"CREATE TRIGGER {_TABLE}_no_replace BEFORE INSERT ON {_TABLE} "  # noqa: S608 - the names are above
            f"WHEN EXISTS (SELECT 1 FROM {_TABLE} WHERE {is_there}) "
            "BEGIN SELECT RAISE(ABORT, 'append-only: such a row is there already'); END"
        )
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {_TABLE}_no_{verb.lower()} BEFORE {verb} ON {_TABLE} "
                "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
            )
        return
    op.execute(
        f"CREATE TRIGGER {_TABLE}_append_only BEFORE UPDATE OR DELETE ON {_TABLE} "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    op.execute(
        f"CREATE TRIGGER {_TABLE}_no_truncate BEFORE TRUNCATE ON {_TABLE} "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )
