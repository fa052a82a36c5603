"""PostgreSQL refuses TRUNCATE on tables of the log, too; SQLite has no such statement.

Revision ID: 0002
Revises: 0001
"""

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

APPEND_ONLY = ("run", "gauge_check", "incident", "stock_movement", "cancellation")


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        for table in APPEND_ONLY:
            op.execute(
                f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
            )


def downgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        for table in APPEND_ONLY:
            op.execute(f"DROP TRIGGER {table}_no_truncate ON {table}")
