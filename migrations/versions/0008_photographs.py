"""Photographs of broken taps: of which run, by whom, when, and the file beside the database.

Revision 0008 on 0007. A photograph can be cancelled; SQLite cannot change a constraint, so the table of
cancellations, to which nothing refers, is rebuilt there.
"""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_BEFORE = ("run", "gauge_check", "incident", "stock_movement")
_SINCE = (*_BEFORE, "photograph")
_CHECK = "ck_cancellation_entry_table"


def upgrade() -> None:
    """Create the table; no break has a photograph yet."""
    op.create_table(
        "photograph",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.Column("run_id", sa.Uuid(), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("sent_sha256", sa.String(length=64), nullable=False),
        sa.CheckConstraint("size > 0", name=op.f("ck_photograph_size")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["person.id"], name=op.f("fk_photograph_recorded_by_id_person")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_photograph_run_id_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photograph")),
    )
    op.create_index(op.f("ix_photograph_run_id"), "photograph", ["run_id"])
    _append_only("photograph")
    _let_cancel(_SINCE)


def downgrade() -> None:
    """Drop the table; the files stay where they are."""
    _let_cancel(_BEFORE)
    op.drop_table("photograph")


def _let_cancel(tables: Sequence[str]) -> None:
    """Let entries of these tables be cancelled; cancellations of others are deleted."""
    known = f"entry_table IN ({','.join(repr(table) for table in tables)})"
    if op.get_bind().dialect.name == "sqlite":
        _make_anew(known)
        return
    op.drop_constraint(op.f(_CHECK), "cancellation", type_="check")
    op.execute("ALTER TABLE cancellation DISABLE TRIGGER cancellation_append_only")
    op.execute(f"DELETE FROM cancellation WHERE NOT {known}")  # noqa: S608 - the names are above
    op.execute("ALTER TABLE cancellation ENABLE TRIGGER cancellation_append_only")
    op.create_check_constraint(op.f(_CHECK), "cancellation", known)


def _make_anew(known: str) -> None:
    op.create_table(
        "cancellation_anew",
        sa.Column("entry_id", sa.Uuid(), nullable=False),
        sa.Column("entry_table", sa.String(length=64), nullable=False),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("cancelled_by_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.CheckConstraint(known, name=op.f(_CHECK)),
        sa.ForeignKeyConstraint(
            ["cancelled_by_id"], ["person.id"], name=op.f("fk_cancellation_cancelled_by_id_person")
        ),
        sa.PrimaryKeyConstraint("entry_id", name=op.f("pk_cancellation")),
    )
    op.execute(f"INSERT INTO cancellation_anew SELECT * FROM cancellation WHERE {known}")  # noqa: S608 - as above
    op.drop_table("cancellation")
    op.rename_table("cancellation_anew", "cancellation")
    _append_only("cancellation")


def _append_only(table: str) -> None:
    """Make the database itself refuse to change or delete rows of `table`, as for all of the log."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
            )
        return
    op.execute(
        f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
    )
    op.execute(
        f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
    )
