"""What the holes of each stretch of a tap's life were like: blind or through, how made, lubricant, depth of thread.

Revision 0005 on 0004. Plain ALTER TABLE, as in 0003. The stretches are calculated from the log: `shopfloor upgrade`
recalculates them after this.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

HOLE_MAKING = ("drilled", "punched", "cast", "laser cut", "plasma cut", "drilled and reamed")
LUBRICANT = ("none", "mist", "brushed or dipped", "flood")


def upgrade() -> None:
    """Add the columns, empty until the lives are recalculated."""
    dialect = op.get_bind().dialect
    columns = {
        "is_blind": sa.Boolean().compile(dialect),
        "hole_making": f"VARCHAR(24) {_one_of('hole_making', HOLE_MAKING)}",
        "lubricant": f"VARCHAR(24) {_one_of('lubricant', LUBRICANT)}",
        "depth_mm": sa.Double().compile(dialect),
    }
    for name, kind in columns.items():
        op.execute(f"ALTER TABLE life_stretch ADD COLUMN {name} {kind}")


def downgrade() -> None:
    """Drop the columns."""
    for name in ("depth_mm", "lubricant", "hole_making", "is_blind"):
        op.execute(f"ALTER TABLE life_stretch DROP COLUMN {name}")


def _one_of(column: str, words: tuple[str, ...]) -> str:
    listed = ", ".join(f"'{word}'" for word in words)
    return f"CONSTRAINT ck_life_stretch_{column} CHECK ({column} IN ({listed}))"
