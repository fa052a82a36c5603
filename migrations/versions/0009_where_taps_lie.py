"""The bin in the crib where the taps of a type are kept, for whoever needs a fresh one.

Revision 0009 on 0008.
"""

from __future__ import annotations

from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the bin, empty for existing tap types."""
    op.execute("ALTER TABLE tap_type ADD COLUMN bin VARCHAR(64)")


def downgrade() -> None:
    """Drop the column."""
    op.execute("ALTER TABLE tap_type DROP COLUMN bin")
