"""Which numbers of a run were queried as implausible and confirmed: they are not offered as usual values.

Revision 0011 on 0010.
"""

from __future__ import annotations

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; for existing runs nothing was queried."""
    op.execute("ALTER TABLE run ADD COLUMN confirmed VARCHAR(64)")


def downgrade() -> None:
    """Drop the columns."""
    op.execute("ALTER TABLE run DROP COLUMN confirmed")
