"""The database: catalogue, log, summaries.

Revision 0001, the first.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

APPEND_ONLY = ("run", "gauge_check", "incident", "stock_movement", "cancellation")


def append_only(table: str) -> None:
    """Make the database itself refuse to change or delete rows of `table`."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
            )
    else:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )


def upgrade() -> None:
    op.create_table(
        "shop_fact",
        sa.Column("name", sa.String(length=64), nullable=False),
        sa.Column("value", sa.String(length=120), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_shop_fact")),
    )
    op.create_table(
        "material",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column(
            "iso_group",
            sa.Enum(
                "P", "M", "K", "N", "S", "H", name="iso_group", native_enum=False, create_constraint=True, length=24
            ),
            nullable=True,
        ),
        sa.Column("hardness_hb", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_material")),
        sa.UniqueConstraint("code", name=op.f("uq_material_code")),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("code", name=op.f("uq_person_code")),
    )
    op.create_table(
        "station",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "electric arm",
                "air arm",
                "drill press",
                "machining centre",
                "hand wrench",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=True,
        ),
        sa.Column("rpm_min", sa.Integer(), nullable=True),
        sa.Column("rpm_max", sa.Integer(), nullable=True),
        sa.CheckConstraint("rpm_min > 0 AND rpm_max >= rpm_min", name=op.f("ck_station_rpm")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station")),
        sa.UniqueConstraint("code", name=op.f("uq_station_code")),
    )
    op.create_table(
        "tap_type",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("thread", sa.String(length=64), nullable=True),
        sa.Column(
            "style",
            sa.Enum(
                "spiral point",
                "spiral flute",
                "straight flute",
                "forming",
                name="style",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=True,
        ),
        sa.Column(
            "chamfer",
            sa.Enum("taper", "plug", "bottoming", name="chamfer", native_enum=False, create_constraint=True, length=24),
            nullable=True,
        ),
        sa.Column(
            "substrate",
            sa.Enum(
                "HSS",
                "HSS-E",
                "HSS-PM",
                "carbide",
                name="substrate",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=True,
        ),
        sa.Column("coating", sa.String(length=64), nullable=True),
        sa.Column("supplier", sa.String(length=120), nullable=True),
        sa.Column("unit_cost", sa.Numeric(precision=10, scale=2), nullable=True),
        sa.Column("lead_time_days", sa.Integer(), nullable=True),
        sa.CheckConstraint("lead_time_days >= 0", name=op.f("ck_tap_type_lead_time_days")),
        sa.CheckConstraint("unit_cost >= 0", name=op.f("ck_tap_type_unit_cost")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tap_type")),
        sa.UniqueConstraint("code", name=op.f("uq_tap_type_code")),
    )
    op.create_table(
        "cancellation",
        sa.Column("entry_id", sa.Uuid(), nullable=False),
        sa.Column("entry_table", sa.String(length=64), nullable=False),
        sa.Column("cancelled_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("cancelled_by_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "entry_table IN ('run','gauge_check','incident','stock_movement')", name=op.f("ck_cancellation_entry_table")
        ),
        sa.ForeignKeyConstraint(
            ["cancelled_by_id"], ["person.id"], name=op.f("fk_cancellation_cancelled_by_id_person")
        ),
        sa.PrimaryKeyConstraint("entry_id", name=op.f("pk_cancellation")),
    )
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("part", sa.String(length=120), nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("thread", sa.String(length=64), nullable=True),
        sa.Column("holes_per_part", sa.Integer(), nullable=True),
        sa.Column("depth_mm", sa.Double(), nullable=True),
        sa.Column("is_blind", sa.Boolean(), nullable=True),
        sa.Column(
            "hole_making",
            sa.Enum(
                "drilled",
                "punched",
                "cast",
                "laser cut",
                "plasma cut",
                "drilled and reamed",
                name="hole_making",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=True,
        ),
        sa.Column("planned_quantity", sa.Integer(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("planned_rpm", sa.Integer(), nullable=True),
        sa.Column("is_open", sa.Boolean(), nullable=False),
        sa.CheckConstraint("depth_mm > 0", name=op.f("ck_job_depth_mm")),
        sa.CheckConstraint("holes_per_part > 0", name=op.f("ck_job_holes_per_part")),
        sa.CheckConstraint("planned_quantity > 0", name=op.f("ck_job_planned_quantity")),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_job_material_id_material")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("code", name=op.f("uq_job_code")),
    )
    op.create_table(
        "person_role",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column(
            "role",
            sa.Enum(
                "operator",
                "crib",
                "quality",
                "admin",
                name="role",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_person_role_person_id_person")),
        sa.PrimaryKeyConstraint("person_id", "role", name=op.f("pk_person_role")),
    )
    op.create_table(
        "tap",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=64), nullable=False),
        sa.Column("tap_type_id", sa.Integer(), nullable=False),
        sa.Column("lot", sa.String(length=64), nullable=True),
        sa.Column("regrinds", sa.Integer(), nullable=False),
        sa.Column("holes_before", sa.Integer(), nullable=True),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("holes_before >= 0", name=op.f("ck_tap_holes_before")),
        sa.CheckConstraint("regrinds >= 0", name=op.f("ck_tap_regrinds")),
        sa.ForeignKeyConstraint(["tap_type_id"], ["tap_type.id"], name=op.f("fk_tap_tap_type_id_tap_type")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tap")),
        sa.UniqueConstraint("code", name=op.f("uq_tap_code")),
    )
    with op.batch_alter_table("tap", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tap_tap_type_id"), ["tap_type_id"], unique=False)

    op.create_table(
        "gauge_check",
        sa.Column("supersedes_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("checked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("tap_id", sa.Integer(), nullable=False),
        sa.Column(
            "result",
            sa.Enum("passed", "failed", name="result", native_enum=False, create_constraint=True, length=24),
            nullable=False,
        ),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_gauge_check_person_id_person")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["person.id"], name=op.f("fk_gauge_check_recorded_by_id_person")),
        sa.ForeignKeyConstraint(
            ["supersedes_id"], ["gauge_check.id"], name=op.f("fk_gauge_check_supersedes_id_gauge_check")
        ),
        sa.ForeignKeyConstraint(["tap_id"], ["tap.id"], name=op.f("fk_gauge_check_tap_id_tap")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gauge_check")),
        sa.UniqueConstraint("supersedes_id", name=op.f("uq_gauge_check_supersedes_id")),
    )
    with op.batch_alter_table("gauge_check", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_gauge_check_tap_id"), ["tap_id"], unique=False)

    op.create_table(
        "run",
        sa.Column("original_id", sa.Uuid(), nullable=False),
        sa.Column("supersedes_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("position", sa.BigInteger(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("station_id", sa.Integer(), nullable=True),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("tap_id", sa.Integer(), nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("rpm", sa.Integer(), nullable=False),
        sa.Column("holes", sa.Integer(), nullable=False),
        sa.Column("cutting_slips", sa.Integer(), nullable=True),
        sa.Column(
            "depth_control",
            sa.Enum(
                "depth stop",
                "clutch at bottom",
                "by eye",
                name="depth_control",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=True,
        ),
        sa.Column(
            "lubricant",
            sa.Enum(
                "none",
                "mist",
                "brushed or dipped",
                "flood",
                name="lubricant",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=True,
        ),
        sa.Column(
            "tap_end",
            sa.Enum(
                "still good",
                "worn",
                "chipped",
                "broken",
                "retired early",
                name="tap_end",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("broke_at_hole", sa.Integer(), nullable=True),
        sa.Column(
            "part_fate",
            sa.Enum(
                "good", "reworked", "scrapped", name="part_fate", native_enum=False, create_constraint=True, length=24
            ),
            nullable=True,
        ),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "broke_at_hole IS NULL OR (tap_end = 'broken' AND broke_at_hole BETWEEN 1 AND holes)",
            name=op.f("ck_run_broke_at_hole"),
        ),
        sa.CheckConstraint("(supersedes_id IS NULL) = (original_id = id)", name=op.f("ck_run_original")),
        sa.CheckConstraint("cutting_slips >= 0", name=op.f("ck_run_cutting_slips")),
        sa.CheckConstraint("holes > 0", name=op.f("ck_run_holes")),
        sa.CheckConstraint("rpm > 0", name=op.f("ck_run_rpm")),
        sa.CheckConstraint("supersedes_id IS NULL OR reason IS NOT NULL", name=op.f("ck_run_reason")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_run_job_id_job")),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_run_material_id_material")),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_run_person_id_person")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["person.id"], name=op.f("fk_run_recorded_by_id_person")),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_run_station_id_station")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["run.id"], name=op.f("fk_run_supersedes_id_run")),
        sa.ForeignKeyConstraint(["tap_id"], ["tap.id"], name=op.f("fk_run_tap_id_tap")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
        sa.UniqueConstraint("supersedes_id", name=op.f("uq_run_supersedes_id")),
    )
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.create_index("ix_run_ended_at", ["ended_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_job_id"), ["job_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_original_id"), ["original_id"], unique=False)
        batch_op.create_index("ix_run_station_ended", ["station_id", "ended_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_run_tap_id"), ["tap_id"], unique=False)

    op.create_table(
        "stock_movement",
        sa.Column("supersedes_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("moved_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "received",
                "issued",
                "returned",
                "sent to regrind",
                "reground",
                "scrapped",
                "lost",
                "counted",
                name="kind",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("tap_type_id", sa.Integer(), nullable=False),
        sa.Column("tap_id", sa.Integer(), nullable=True),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("station_id", sa.Integer(), nullable=True),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_stock_movement_person_id_person")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_stock_movement_recorded_by_id_person")
        ),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_stock_movement_station_id_station")),
        sa.ForeignKeyConstraint(
            ["supersedes_id"], ["stock_movement.id"], name=op.f("fk_stock_movement_supersedes_id_stock_movement")
        ),
        sa.ForeignKeyConstraint(["tap_id"], ["tap.id"], name=op.f("fk_stock_movement_tap_id_tap")),
        sa.ForeignKeyConstraint(["tap_type_id"], ["tap_type.id"], name=op.f("fk_stock_movement_tap_type_id_tap_type")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_movement")),
        sa.UniqueConstraint("supersedes_id", name=op.f("uq_stock_movement_supersedes_id")),
    )
    with op.batch_alter_table("stock_movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_movement_tap_id"), ["tap_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stock_movement_tap_type_id"), ["tap_type_id"], unique=False)

    op.create_table(
        "tap_life",
        sa.Column("tap_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("is_present", sa.Boolean(), nullable=False),
        sa.Column("first_entry", sa.Integer(), nullable=True),
        sa.Column("holes", sa.Integer(), nullable=False),
        sa.Column("cutting_slips", sa.Integer(), nullable=False),
        sa.Column("runs", sa.Integer(), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "unused",
                "in service",
                "worn",
                "chipped",
                "broken",
                "retired early",
                "lost",
                name="state",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("station_id", sa.Integer(), nullable=True),
        sa.Column("placed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("first_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("last_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("entry", sa.Integer(), nullable=True),
        sa.Column("lower", sa.Integer(), nullable=True),
        sa.Column("upper", sa.Integer(), nullable=True),
        sa.Column(
            "mode",
            sa.Enum("break", "wear", name="mode", native_enum=False, create_constraint=True, length=24),
            nullable=True,
        ),
        sa.ForeignKeyConstraint(["station_id"], ["station.id"], name=op.f("fk_tap_life_station_id_station")),
        sa.ForeignKeyConstraint(["tap_id"], ["tap.id"], name=op.f("fk_tap_life_tap_id_tap")),
        sa.PrimaryKeyConstraint("tap_id", "number", name=op.f("pk_tap_life")),
    )
    with op.batch_alter_table("tap_life", schema=None) as batch_op:
        batch_op.create_index("ix_tap_life_station", ["station_id", "placed_at"], unique=False)

    op.create_table(
        "incident",
        sa.Column("supersedes_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("run_id", sa.Uuid(), nullable=False),
        sa.Column("reported_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column(
            "cause",
            sa.Enum(
                "bottomed",
                "chips packed",
                "out of line",
                "hole small or hard",
                "lubricant",
                "wrong style",
                "too fast",
                "clutch tight",
                "worn out",
                "not known",
                name="cause",
                native_enum=False,
                create_constraint=True,
                length=24,
            ),
            nullable=False,
        ),
        sa.Column("account", sa.Text(), nullable=True),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("device_time", sa.String(length=64), nullable=True),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_incident_person_id_person")),
        sa.ForeignKeyConstraint(["recorded_by_id"], ["person.id"], name=op.f("fk_incident_recorded_by_id_person")),
        sa.ForeignKeyConstraint(["run_id"], ["run.id"], name=op.f("fk_incident_run_id_run")),
        sa.ForeignKeyConstraint(["supersedes_id"], ["incident.id"], name=op.f("fk_incident_supersedes_id_incident")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_incident")),
        sa.UniqueConstraint("supersedes_id", name=op.f("uq_incident_supersedes_id")),
    )
    with op.batch_alter_table("incident", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_incident_run_id"), ["run_id"], unique=False)

    op.create_table(
        "life_stretch",
        sa.Column("tap_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("ordinal", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("material_id", sa.Integer(), nullable=False),
        sa.Column("speed_band", sa.String(length=64), nullable=False),
        sa.Column("start", sa.Integer(), nullable=False),
        sa.Column("end", sa.Integer(), nullable=False),
        sa.Column("cutting_slips", sa.Integer(), nullable=False),
        sa.Column("slip_holes", sa.Integer(), nullable=False),
        sa.Column("breaks", sa.Integer(), nullable=False),
        sa.Column("runs", sa.Integer(), nullable=False),
        sa.Column("first_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("entry", sa.Integer(), nullable=True),
        sa.Column("lower", sa.Integer(), nullable=True),
        sa.Column("upper", sa.Integer(), nullable=True),
        sa.Column(
            "mode",
            sa.Enum("break", "wear", name="mode", native_enum=False, create_constraint=True, length=24),
            nullable=True,
        ),
        sa.ForeignKeyConstraint(["material_id"], ["material.id"], name=op.f("fk_life_stretch_material_id_material")),
        sa.ForeignKeyConstraint(
            ["tap_id", "number"], ["tap_life.tap_id", "tap_life.number"], name="fk_life_stretch_tap_life"
        ),
        sa.PrimaryKeyConstraint("tap_id", "number", "ordinal", name=op.f("pk_life_stretch")),
    )
    with op.batch_alter_table("life_stretch", schema=None) as batch_op:
        batch_op.create_index("ix_life_stretch_condition", ["material_id", "speed_band"], unique=False)

    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION 'append-only'; END $$"
        )
    for table in APPEND_ONLY:
        append_only(table)


def downgrade() -> None:
    with op.batch_alter_table("life_stretch", schema=None) as batch_op:
        batch_op.drop_index("ix_life_stretch_condition")

    op.drop_table("life_stretch")
    with op.batch_alter_table("incident", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_incident_run_id"))

    op.drop_table("incident")
    with op.batch_alter_table("tap_life", schema=None) as batch_op:
        batch_op.drop_index("ix_tap_life_station")

    op.drop_table("tap_life")
    with op.batch_alter_table("stock_movement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stock_movement_tap_type_id"))
        batch_op.drop_index(batch_op.f("ix_stock_movement_tap_id"))

    op.drop_table("stock_movement")
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_run_tap_id"))
        batch_op.drop_index("ix_run_station_ended")
        batch_op.drop_index(batch_op.f("ix_run_original_id"))
        batch_op.drop_index(batch_op.f("ix_run_job_id"))
        batch_op.drop_index("ix_run_ended_at")

    op.drop_table("run")
    with op.batch_alter_table("gauge_check", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_gauge_check_tap_id"))

    op.drop_table("gauge_check")
    with op.batch_alter_table("tap", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_tap_tap_type_id"))

    op.drop_table("tap")
    op.drop_table("person_role")
    op.drop_table("job")
    op.drop_table("cancellation")
    op.drop_table("tap_type")
    op.drop_table("station")
    op.drop_table("person")
    op.drop_table("material")
    op.drop_table("shop_fact")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change()")
