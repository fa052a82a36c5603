"""People's PINs and passwords (hashed), enrolled tablets, log-ins and attempts.

Revision 0006 on 0005.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_TIME = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Create the tables; nobody has a PIN yet and no tablet is enrolled."""
    op.create_table(
        "person_secret",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("secret_hash", sa.String(length=200), nullable=False),
        sa.Column("is_password", sa.Boolean(), nullable=False),
        sa.Column("set_at", _TIME, nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_person_secret_person_id_person")),
        sa.PrimaryKeyConstraint("person_id", name=op.f("pk_person_secret")),
    )
    op.create_table(
        "tablet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=False),
        sa.Column("enrolled_at", _TIME, nullable=False),
        sa.Column("enrolled_by_id", sa.Integer(), nullable=True),
        sa.Column("used_at", _TIME, nullable=False),
        sa.Column("revoked_at", _TIME, nullable=True),
        sa.ForeignKeyConstraint(["enrolled_by_id"], ["person.id"], name=op.f("fk_tablet_enrolled_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tablet")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_tablet_token_hash")),
    )
    _sign_ins()
    _attempts()


def _sign_ins() -> None:
    op.create_table(
        "sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(length=64), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("tablet_id", sa.Integer(), nullable=True),
        sa.Column("is_password", sa.Boolean(), nullable=False),
        sa.Column("started_at", _TIME, nullable=False),
        sa.Column("seen_at", _TIME, nullable=False),
        sa.Column("ended_at", _TIME, nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id_person")),
        sa.ForeignKeyConstraint(["tablet_id"], ["tablet.id"], name=op.f("fk_sign_in_tablet_id_tablet")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_sign_in_token_hash")),
    )
    op.create_index("ix_sign_in_person_tablet", "sign_in", ["person_id", "tablet_id"])


def _attempts() -> None:
    outcome = sa.Enum(
        "right",
        "wrong",
        "too soon",
        "released",
        name="outcome",
        native_enum=False,
        create_constraint=True,
        length=24,
    )
    op.create_table(
        "sign_in_attempt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", _TIME, nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("tablet_id", sa.Integer(), nullable=True),
        sa.Column("outcome", outcome, nullable=False),
        sa.ForeignKeyConstraint(["tablet_id"], ["tablet.id"], name=op.f("fk_sign_in_attempt_tablet_id_tablet")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_attempt")),
    )
    op.create_index("ix_sign_in_attempt_code", "sign_in_attempt", ["code", "id"])
    op.create_index("ix_sign_in_attempt_tablet", "sign_in_attempt", ["tablet_id", "id"])


def downgrade() -> None:
    """Drop the tables."""
    for table in ("sign_in_attempt", "sign_in", "tablet", "person_secret"):
        op.drop_table(table)
