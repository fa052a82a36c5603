"""The hole of each cutting slip, where the holes of a run were counted live.

Revision 0004 on 0003. Plain ALTER TABLE, as in 0003.
"""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column, empty for existing runs."""
    op.execute("ALTER TABLE run ADD COLUMN slip_holes TEXT")


def downgrade() -> None:
    """Drop the column."""
    op.execute("ALTER TABLE run DROP COLUMN slip_holes")
