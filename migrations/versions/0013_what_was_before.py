"""Changes to people, taps, jobs, stations, materials, tap types and shop settings keep the old values on record.

Revision 0013 on 0012. The database itself keeps a row's earlier values, and refuses to delete one. Codes get a key that
is the same for look-alike codes; existing look-alikes have none until a supervisor renames them.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

CODED = ("tap_type", "material", "station", "person", "tap", "job")
KEYS = {**dict.fromkeys(CODED, ("id",)), "shop_fact": ("name",), "person_role": ("person_id", "role")}
"""The tables whose rows may change, with their columns that never change; the first identifies the row."""
LOGS = ("catalogue_edit", "catalogue_change")

_LONGEST_KEY = 512
_UNSEEN_KINDS = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})
_UNSEEN = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)


def upgrade() -> None:
    """Create the tables, give the codes their keys, then add the triggers that keep old values."""
    _tables()
    for table in KEYS:
        op.execute(f"ALTER TABLE {table} ADD COLUMN edit_id INTEGER")
    op.execute("ALTER TABLE person_role ADD COLUMN ends BOOLEAN")
    for table in CODED:
        op.execute(f"ALTER TABLE {table} ADD COLUMN code_key VARCHAR({_LONGEST_KEY})")
        _fill_keys(table)
        op.create_index(f"ix_{table}_code_key", table, ["code_key"], unique=True)
    (_guard_sqlite if op.get_bind().dialect.name == "sqlite" else _guard_postgresql)()


def downgrade() -> None:
    """Drop the tables."""
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    for table in KEYS:
        for trigger in (
            ("no_replace", "no_delete", "same", "kept") if is_sqlite else ("no_delete", "no_truncate", "kept")
        ):
            op.execute(f"DROP TRIGGER {table}_{trigger}" + ("" if is_sqlite else f" ON {table}"))
    for table in CODED:
        op.drop_index(f"ix_{table}_code_key", table)
        op.execute(f"ALTER TABLE {table} DROP COLUMN code_key")
    op.execute("ALTER TABLE person_role DROP COLUMN ends")
    for table in KEYS:
        op.execute(f"ALTER TABLE {table} DROP COLUMN edit_id")
    for table in reversed(LOGS):
        op.drop_table(table)
    if not is_sqlite:
        op.execute("DROP FUNCTION keep_earlier()")


def _tables() -> None:
    time = sa.DateTime(timezone=True)
    op.create_table(
        "catalogue_edit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", time, nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"], name=op.f("fk_catalogue_edit_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_catalogue_edit")),
    )
    op.create_table(
        "catalogue_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=64), nullable=False),
        sa.Column("thing", sa.String(length=64), nullable=False),
        sa.Column("edit_id", sa.Integer(), nullable=True),
        sa.Column("at", time, nullable=False),
        sa.Column("was", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_catalogue_change")),
    )
    op.create_index("ix_catalogue_change_thing", "catalogue_change", ["kind", "thing"])


def _fill_keys(table: str) -> None:
    things = sa.table(
        table, sa.column("id", sa.Integer), sa.column("code", sa.String), sa.column("code_key", sa.String)
    )
    connection = op.get_bind()
    keys = {id_: _key(code) for id_, code in connection.execute(sa.select(things.c.id, things.c.code))}
    often = Counter(keys.values())
    single = [{"at": id_, "key": key} for id_, key in keys.items() if often[key] == 1 and key]
    if single:
        fill = sa.update(things).where(things.c.id == sa.bindparam("at")).values(code_key=sa.bindparam("key"))
        connection.execute(fill, single)


def _key(code: str) -> str:
    """How codes were compared when this was written; a migration does not change with the program."""
    seen = "".join(
        sign
        for sign in code
        if sign.isspace() or not (unicodedata.category(sign) in _UNSEEN_KINDS or _UNSEEN.match(sign))
    )
    for _ in range(2):
        seen = unicodedata.normalize("NFKC", seen).casefold()
    return " ".join(seen.split())[:_LONGEST_KEY].strip()


def _guard_sqlite() -> None:
    for table in LOGS:
        _trigger(table, "no_update", "BEFORE UPDATE", "1")
        _trigger(table, "no_delete", "BEFORE DELETE", "1")
        _trigger(table, "no_replace", "BEFORE INSERT", _is_there(table, "id = NEW.id"))
    for table, keys in KEYS.items():
        unique = ("code", "code_key") if table in CODED else ()
        same_key = " AND ".join(f"{key} = NEW.{key}" for key in keys)
        is_there = " OR ".join(["rowid = NEW.rowid", f"({same_key})", *(f"{key} = NEW.{key}" for key in unique)])
        _trigger(table, "no_replace", "BEFORE INSERT", _is_there(table, is_there))
        _trigger(table, "no_delete", "BEFORE DELETE", "NOT coalesce(OLD.ends, 0)" if table == "person_role" else "1")
        moved = [f"NEW.{key} IS NOT OLD.{key}" for key in ("rowid", *keys)]
        # UPDATE OR REPLACE would delete the row that has the code.
        others = [_is_there(table, f"{key} = NEW.{key} AND rowid <> OLD.rowid") for key in unique]
        _trigger(table, "same", "BEFORE UPDATE", " OR ".join([*moved, *others]))
        columns = [row[1] for row in op.get_bind().exec_driver_sql(f"PRAGMA table_info({table})")]
        was = ", ".join(f"'{column}', OLD.{column}" for column in columns)
        op.execute(
            f"CREATE TRIGGER {table}_kept AFTER UPDATE ON {table} BEGIN "  # noqa: S608 - the names are above
            f"INSERT INTO catalogue_change (kind, thing, edit_id, at, was) VALUES ('{table}', "
            f"CAST(OLD.{keys[0]} AS TEXT), CASE WHEN NEW.edit_id IS NOT OLD.edit_id THEN NEW.edit_id END, "
            f"CURRENT_TIMESTAMP, json_object({was})); END"
        )


def _is_there(table: str, what: str) -> str:
    return f"EXISTS (SELECT 1 FROM {table} WHERE {what})"  # noqa: S608 - the names are above


def _trigger(table: str, name: str, when: str, refused: str) -> None:
    op.execute(
        f"CREATE TRIGGER {table}_{name} {when} ON {table} WHEN {refused} "
        "BEGIN SELECT RAISE(ABORT, 'append-only: rows stay'); END"
    )


def _guard_postgresql() -> None:
    op.execute(
        """
        CREATE FUNCTION keep_earlier() RETURNS trigger LANGUAGE plpgsql AS $$
        DECLARE
            earlier jsonb := to_jsonb(OLD);
            later jsonb := to_jsonb(NEW);
            key text;
        BEGIN
            FOREACH key IN ARRAY TG_ARGV LOOP
                IF earlier -> key IS DISTINCT FROM later -> key THEN RAISE EXCEPTION 'append-only: rows stay'; END IF;
            END LOOP;
            INSERT INTO catalogue_change (kind, thing, edit_id, at, was) VALUES (
                TG_TABLE_NAME, earlier ->> TG_ARGV[0],
                CASE WHEN NEW.edit_id IS DISTINCT FROM OLD.edit_id THEN NEW.edit_id END, now(), earlier::text
            );
            RETURN NEW;
        END $$
        """
    )
    for table in LOGS:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
    for table, keys in KEYS.items():
        is_refused = "WHEN (NOT coalesce(OLD.ends, false)) " if table == "person_role" else ""
        op.execute(
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} FOR EACH ROW {is_refused}"
            "EXECUTE FUNCTION refuse_change()"
        )
        told = ", ".join(f"'{key}'" for key in keys)
        op.execute(
            f"CREATE TRIGGER {table}_kept BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION keep_earlier({told})"
        )
    for table in (*LOGS, *KEYS):
        op.execute(
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
