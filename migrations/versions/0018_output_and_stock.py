"""What was made, by day and in all, and what the crib has in stock are kept by the database itself.

Revision 0018 on 0017. Triggers count a run when it is stored, and take it back when it is superseded or cancelled; the
same for movements of stock. The tables are filled from the log as it is. That of failed gauge checks and the type of a
stretch stay empty: `shopfloor upgrade` derives them with the lives. People are found by their last run at a station.
"""

# ruff: noqa: S608 - the statements are put together from the names below

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

_KEYS = ("job_id", "tap_type_id", "material_id", "rpm")
_COUNTED = ("runs", "holes", "breaks", "cutting_slips", "slip_holes", "judged_slips", "judged_holes")
_OUTPUT = {"daily_output": ("day", "station_id", *_KEYS), "total_output": _KEYS}
_STOCK = ("movements", "on_hand")
_TABLES = (*_OUTPUT, "crib_stock", "marked_in_crib", "gauge_failure")
_INDEXES = {"ix_run_station_person_ended": ("run", ["station_id", "person_id", "ended_at"])} | {
    "ix_life_stretch_last_at": ("life_stretch", ["last_at"]),
    "ix_life_stretch_type": ("life_stretch", ["tap_type_id", "material_id", "speed_band", "mode"]),
    "ix_tap_life_first_at": ("tap_life", ["first_at"]),
}
_VIEWS = ("run_output", "run_that_counts", "newest_place")


def upgrade() -> None:
    """Create tables, views and triggers, and fill the tables."""
    _tables()
    op.execute("ALTER TABLE life_stretch ADD COLUMN tap_type_id INTEGER")
    for name, (table, columns) in _INDEXES.items():
        op.create_index(name, table, columns)
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    _views("date(run.ended_at)" if is_sqlite else "(run.ended_at AT TIME ZONE 'UTC')::date")
    for table, keys in _OUTPUT.items():
        op.execute(_summed(table, keys))
    op.execute(
        "INSERT INTO crib_stock (tap_type_id, movements, on_hand) SELECT tap_type_id, count(*), sum(quantity) "
        f"FROM stock_movement WHERE {_counts('stock_movement')} GROUP BY tap_type_id"
    )
    op.execute("INSERT INTO marked_in_crib (tap_id, tap_type_id) SELECT DISTINCT tap_id, tap_type_id FROM newest_place")
    (_watch_sqlite if is_sqlite else _watch_postgresql)()


def downgrade() -> None:
    """Drop all of it; it follows from the log."""
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    for trigger, table in (
        ("run_counted", "run"), ("run_cancelled", "cancellation"), ("stock_counted", "stock_movement"),
        ("stock_cancelled", "cancellation"),
    ):  # fmt: skip
        op.execute(f"DROP TRIGGER {trigger}" + ("" if is_sqlite else f" ON {table}"))
        if not is_sqlite:
            op.execute(f"DROP FUNCTION {trigger}()")
    for view in reversed(_VIEWS):
        op.execute(f"DROP VIEW {view}")
    for name, (table, _) in _INDEXES.items():
        op.drop_index(name, table)
    op.execute("ALTER TABLE life_stretch DROP COLUMN tap_type_id")
    for table in _TABLES:
        op.drop_table(table)


def _tables() -> None:
    for table, keys in _OUTPUT.items():
        key_columns = [
            sa.Column(key, sa.Date if key == "day" else sa.Integer, autoincrement=False, nullable=False) for key in keys
        ]
        counted = [sa.Column(name, sa.Integer, nullable=False) for name in _COUNTED]
        op.create_table(table, *key_columns, *counted, sa.PrimaryKeyConstraint(*keys, name=f"pk_{table}"))
    op.create_table(
        "crib_stock",
        sa.Column("tap_type_id", sa.Integer, autoincrement=False, nullable=False),
        *(sa.Column(name, sa.Integer, nullable=False) for name in _STOCK),
        sa.PrimaryKeyConstraint("tap_type_id", name="pk_crib_stock"),
    )
    op.create_table(
        "marked_in_crib",
        sa.Column("tap_id", sa.Integer, autoincrement=False, nullable=False),
        sa.Column("tap_type_id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("tap_id", name="pk_marked_in_crib"),
    )
    op.create_table(
        "gauge_failure",
        sa.Column("check_id", sa.Uuid, nullable=False),
        sa.Column("opened_by", sa.Uuid, nullable=False),
        sa.Column("tap_id", sa.Integer, nullable=False),
        sa.Column("failed_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["tap_id"], ["tap.id"], name="fk_gauge_failure_tap_id_tap"),
        sa.PrimaryKeyConstraint("check_id", name="pk_gauge_failure"),
    )
    op.create_index("ix_gauge_failure_failed_at", "gauge_failure", ["failed_at"])
    op.create_index("ix_gauge_failure_tap_id", "gauge_failure", ["tap_id"])


def _counts(table: str, name: str = "") -> str:
    id_ = f"{name or table}.id"
    return (
        f"NOT EXISTS (SELECT 1 FROM {table} AS later WHERE later.supersedes_id = {id_}) "
        f"AND NOT EXISTS (SELECT 1 FROM cancellation WHERE cancellation.entry_id = {id_})"
    )


def _views(day: str) -> None:
    """What each run adds, which runs count, and the last place of each marked tap that is in the crib."""
    made = "coalesce(run.broke_at_hole, run.holes)"
    judged = "run.cutting_slips IS NOT NULL AND (run.depth_control IS NULL OR run.depth_control <> 'clutch at bottom')"
    op.execute(
        f"CREATE VIEW run_output AS SELECT run.id, {day} AS day, coalesce(run.station_id, 0) AS station_id, "
        "coalesce(run.job_id, 0) AS job_id, tap.tap_type_id, run.material_id, run.rpm, 1 AS runs, "
        f"{made} AS holes, CASE WHEN run.tap_end = 'broken' THEN 1 ELSE 0 END AS breaks, "
        "coalesce(run.cutting_slips, 0) AS cutting_slips, "
        f"CASE WHEN run.cutting_slips IS NULL THEN 0 ELSE {made} END AS slip_holes, "
        f"CASE WHEN {judged} THEN run.cutting_slips ELSE 0 END AS judged_slips, "
        f"CASE WHEN {judged} THEN {made} ELSE 0 END AS judged_holes "
        "FROM run JOIN tap ON tap.id = run.tap_id"
    )
    op.execute(f"CREATE VIEW run_that_counts AS SELECT run.id FROM run WHERE {_counts('run')}")
    later = (
        "SELECT 1 FROM stock_movement AS other WHERE other.tap_id = stock_movement.tap_id "
        "AND (other.moved_at > stock_movement.moved_at OR (other.moved_at = stock_movement.moved_at "
        "AND other.recorded_at > stock_movement.recorded_at)) AND " + _counts("stock_movement", "other")
    )
    op.execute(
        "CREATE VIEW newest_place AS SELECT tap_id, tap_type_id FROM stock_movement "
        "WHERE tap_id IS NOT NULL AND kind IN ('received', 'returned', 'reground') "
        f"AND {_counts('stock_movement')} AND NOT EXISTS ({later})"
    )


def _summed(table: str, keys: tuple[str, ...]) -> str:
    sums = ", ".join(f"sum({name})" for name in _COUNTED)
    return (
        f"INSERT INTO {table} ({', '.join((*keys, *_COUNTED))}) SELECT {', '.join(keys)}, {sums} FROM run_output "
        f"WHERE id IN (SELECT id FROM run_that_counts) GROUP BY {', '.join(keys)}"
    )


def _added(table: str, keys: tuple[str, ...], counted: tuple[str, ...], source: str, sign: str) -> str:
    """Add what a row of the log brings, or take it back."""
    values = ", ".join(f"{sign}{name}" for name in counted)
    sums = ", ".join(f"{name} = {table}.{name} + excluded.{name}" for name in counted)
    return (
        f"INSERT INTO {table} ({', '.join((*keys, *counted))}) SELECT {', '.join(keys)}, {values} FROM {source} "
        f"ON CONFLICT ({', '.join(keys)}) DO UPDATE SET {sums};"
    )


def _made(which: str, sign: str) -> list[str]:
    return [_added(table, keys, _COUNTED, f"run_output WHERE {which}", sign) for table, keys in _OUTPUT.items()]


def _stocked(which: str, sign: str) -> list[str]:
    moved = "(SELECT id, tap_type_id, 1 AS movements, quantity AS on_hand FROM stock_movement) AS moved"
    return [_added("crib_stock", ("tap_type_id",), _STOCK, f"{moved} WHERE {which}", sign)]


def _placed(which: str) -> list[str]:
    """The tap of a movement is in the crib, or not, by its newest movement that counts."""
    tap = f"(SELECT tap_id FROM stock_movement WHERE {which})"
    return [
        f"DELETE FROM marked_in_crib WHERE tap_id = {tap};",
        "INSERT INTO marked_in_crib (tap_id, tap_type_id) SELECT tap_id, tap_type_id FROM newest_place "
        f"WHERE tap_id = {tap} ON CONFLICT DO NOTHING;",
    ]


_UNCANCELLED = "NOT EXISTS (SELECT 1 FROM cancellation WHERE entry_id = {id})"
_UNSUPERSEDED = "NOT EXISTS (SELECT 1 FROM {table} AS later WHERE later.supersedes_id = {id})"


def _steps() -> dict[str, tuple[str, str, list[str]]]:
    """By trigger: its table, on which of its rows it acts, and what it does.

    Cancellations may be there before what they cancel, where a whole shop is copied.
    """
    new = "id = NEW.id AND " + _UNCANCELLED.format(id="NEW.id")
    old = "id = NEW.supersedes_id AND " + _UNCANCELLED.format(id="NEW.supersedes_id")
    ended = {
        table: "id = NEW.entry_id AND " + _UNSUPERSEDED.format(table=table, id="NEW.entry_id")
        for table in ("run", "stock_movement")
    }
    stored = [*_stocked(new, ""), *_stocked(old, "-"), *_placed("id = NEW.supersedes_id"), *_placed("id = NEW.id")]
    return {
        "run_counted": ("run", "", [*_made(new, ""), *_made(old, "-")]),
        "run_cancelled": ("cancellation", "NEW.entry_table = 'run'", _made(ended["run"], "-")),
        "stock_counted": ("stock_movement", "", stored),
        "stock_cancelled": (
            "cancellation",
            "NEW.entry_table = 'stock_movement'",
            [*_stocked(ended["stock_movement"], "-"), *_placed("id = NEW.entry_id")],
        ),
    }


def _watch_sqlite() -> None:
    for trigger, (table, which, steps) in _steps().items():
        when = f"WHEN {which} " if which else ""
        op.execute(f"CREATE TRIGGER {trigger} AFTER INSERT ON {table} {when}BEGIN {' '.join(steps)} END")


def _watch_postgresql() -> None:
    for trigger, (table, which, steps) in _steps().items():
        when = f"WHEN ({which}) " if which else ""
        op.execute(
            f"CREATE FUNCTION {trigger}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN {' '.join(steps)} "
            "RETURN NULL; END $$"
        )
        op.execute(f"CREATE TRIGGER {trigger} AFTER INSERT ON {table} FOR EACH ROW {when}EXECUTE FUNCTION {trigger}()")
