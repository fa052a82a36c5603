"""Where the taps of a type lie in the crib: whoever needs a fresh one goes there.

Revision 0009 on 0008.
"""

from __future__ import annotations

from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the bin; of what is on record none is known."""
    op.execute("ALTER TABLE tap_type ADD COLUMN bin VARCHAR(64)")


def downgrade() -> None:
    """Take it away again."""
    op.execute("ALTER TABLE tap_type DROP COLUMN bin")
