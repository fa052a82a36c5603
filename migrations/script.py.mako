"""${message}

Revision ${up_revision}, after ${down_revision | comma,n}.

House rules: one subject a migration; name it for what changes; batch mode, since SQLite cannot alter freely; write
data changes with plain tables here, never with today's models; append-only tables keep their triggers
(`append_only` in 0001); try `upgrade`, `downgrade`, `upgrade` with rows in it.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
${imports if imports else ""}
revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}
branch_labels = None
depends_on = None


def upgrade() -> None:
    ${upgrades if upgrades else "pass"}


def downgrade() -> None:
    ${downgrades if downgrades else "pass"}
