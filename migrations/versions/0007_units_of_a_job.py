"""The units of a job's drawing, in which its lengths are typed and shown; what is stored stays metric.

Revision 0007 on 0006. Plain ALTER TABLE, as in 0003.
"""

from __future__ import annotations

from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; a job without units uses the shop's."""
    op.execute(
        "ALTER TABLE job ADD COLUMN units VARCHAR(24) CONSTRAINT ck_job_units CHECK (units IN ('metric', 'inch'))"
    )


def downgrade() -> None:
    """Drop the column."""
    op.execute("ALTER TABLE job DROP COLUMN units")
