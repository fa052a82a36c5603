"""Which numbers of a run were asked back when they were typed, and confirmed: they are not offered as usual ones.

Revision 0011 on 0010.
"""

from __future__ import annotations

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the words; of what is on record nothing was asked back."""
    op.execute("ALTER TABLE run ADD COLUMN confirmed VARCHAR(64)")


def downgrade() -> None:
    """Take them away again."""
    op.execute("ALTER TABLE run DROP COLUMN confirmed")
