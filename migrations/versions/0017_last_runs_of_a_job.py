"""The last runs of a job, everywhere and at a station, are found by index.

Revision 0017 on 0016.
"""

from __future__ import annotations

from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Put two indexes in place of one."""
    op.create_index("ix_run_job_ended", "run", ["job_id", "ended_at"])
    op.create_index("ix_run_job_station_ended", "run", ["job_id", "station_id", "ended_at"])
    op.drop_index("ix_run_job_id", "run")


def downgrade() -> None:
    """The one index again."""
    op.create_index("ix_run_job_id", "run", ["job_id"])
    op.drop_index("ix_run_job_station_ended", "run")
    op.drop_index("ix_run_job_ended", "run")
