"""History of rows that may change: who changed them, when, and what they were before.

`catalogue_edit` says who and when; a changed row names it. What the row was before is written to `catalogue_change` by
the database itself, whoever changes it; a change from outside the program has no edit there. Both are append-only.

The append-only tables (`floor.APPEND_ONLY` and these two) refuse UPDATE and DELETE by triggers; the tables in `KEPT`
refuse DELETE and a change of key. SQLite also refuses, before each INSERT, what `OR REPLACE` would delete.
`tests/store/test_append_only.py` tries every way on every table. On SQLite a new column of a kept table needs its
trigger `TABLE_kept` recreated (a test says so).
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, declared_attr, mapped_column, relationship

from shopfloor.core.input.codes import LONGEST_KEY, code_key
from shopfloor.store.base import LONGEST_CODE, Base, UtcTime

KEPT = ("shop_fact", "tap_type", "material", "station", "person", "person_role", "tap", "job")
"""Tables whose rows may change; none is deleted, and earlier values stay on record."""


class Edit(Base):
    """An addition or change: when, and by whom; NULL: unknown."""

    __tablename__ = "catalogue_edit"

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))


class Earlier(Base):
    """What a row was before a change, as JSON by its columns. `kind` is its table, `thing` its key.

    `edit_id` NULL: the change came from outside the program, at `at` by the database's clock.
    """

    __tablename__ = "catalogue_change"

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(String(LONGEST_CODE))
    thing: Mapped[str] = mapped_column(String(LONGEST_CODE))
    edit_id: Mapped[int | None]
    at: Mapped[datetime] = mapped_column(UtcTime)
    was: Mapped[str] = mapped_column(Text)

    __table_args__ = (Index("ix_catalogue_change_thing", "kind", "thing"),)


class OnRecord:
    """A row that may change. `edit_id` is its last edit; NULL if that was before edits were recorded.

    There is no foreign key to the edit: people and edits would otherwise refer to each other.
    """

    edit_id: Mapped[int | None]

    @declared_attr
    def edit(cls) -> Mapped[Edit | None]:  # noqa: N805 - SQLAlchemy hands over the class
        """Its last edit."""
        join = f"foreign({cls.__name__}.edit_id) == Edit.id"  # type: ignore[attr-defined]
        return relationship(primaryjoin=join, lazy="select")


class Coded(OnRecord):
    """A row that people know by its code.

    `code_key` is the same for codes that look alike, so it cannot be there twice; NULL: other codes of an old record
    look like this one.
    """

    code: Mapped[str] = mapped_column(String(LONGEST_CODE), unique=True)
    code_key: Mapped[str | None] = mapped_column(
        String(LONGEST_KEY), unique=True, index=True, default=lambda context: _key(context)
    )


def _key(context: Any) -> str:
    """The key of the code being inserted."""
    return code_key(context.get_current_parameters()["code"])
