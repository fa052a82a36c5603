"""For the set-up card: torque, reducer and largest threads of a station; size, depth and state of a job's hole.

Revision 0003 on 0002. Plain ALTER TABLE, which both databases have: batch mode would drop and rebuild the tables on
SQLite, and runs refer to them.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

LARGEST = tuple(f"largest_{group}" for group in "pmknsh")
COLUMNS: dict[str, dict[str, sa.types.TypeEngine[object]]] = {
    "station": {"torque_nm": sa.Double(), "reducer_ratio": sa.Double(), **dict.fromkeys(LARGEST, sa.String(64))},
    "job": {
        "drilled_mm": sa.Double(),
        "drill_depth_mm": sa.Double(),
        "is_chamfered": sa.Boolean(),
        "is_reamed": sa.Boolean(),
    },
}


def upgrade() -> None:
    """Add the columns, empty for existing rows. Measures are above zero."""
    dialect = op.get_bind().dialect
    for table, columns in COLUMNS.items():
        for column, kind in columns.items():
            is_measure = isinstance(kind, sa.Double)
            check = f" CONSTRAINT ck_{table}_{column} CHECK ({column} > 0)" if is_measure else ""
            op.execute(f"ALTER TABLE {table} ADD COLUMN {column} {kind.compile(dialect)}{check}")


def downgrade() -> None:
    """Drop the columns."""
    for table, columns in COLUMNS.items():
        for column in reversed(columns):
            op.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
