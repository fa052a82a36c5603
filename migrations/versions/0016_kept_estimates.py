"""Kept estimates, in numbered generations, and the lease of whoever works them out.

The log's newest entries can be found by index, so that it costs nothing to see whether there is something new.

Revision 0016 on 0015.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

_TIME = sa.DateTime(timezone=True)
_WHEN = {"run": "recorded_at", "gauge_check": "recorded_at", "stock_movement": "recorded_at"} | {
    "cancellation": "cancelled_at"
}
_TABLES = ("estimate_generation", "estimate_part", "estimator_lease")


def upgrade() -> None:
    """Add the tables, empty, and the indexes."""
    op.create_table(
        "estimate_generation",
        sa.Column("number", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("made_at", _TIME, nullable=False),
        sa.Column("written_as", sa.Integer, nullable=False),
        sa.Column("log_mark", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_estimate_generation"),
    )
    op.create_table(
        "estimate_part",
        sa.Column("name", sa.String(64), nullable=False),
        sa.Column("since", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("body", sa.LargeBinary),
        sa.PrimaryKeyConstraint("name", "since", name="pk_estimate_part"),
    )
    op.create_table(
        "estimator_lease",
        sa.Column("id", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("holder", sa.String(120), nullable=False),
        sa.Column("until", _TIME, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_estimator_lease"),
    )
    for table, column in _WHEN.items():
        op.create_index(f"ix_{table}_{column}", table, [column])


def downgrade() -> None:
    """Drop both; all of it follows from the log."""
    for table, column in _WHEN.items():
        op.drop_index(f"ix_{table}_{column}", table)
    for table in _TABLES:
        op.drop_table(table)
