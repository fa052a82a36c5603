"""Declarative base, naming convention and column types shared by all tables."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime, Dialect, Enum, MetaData
from sqlalchemy.orm import DeclarativeBase
from sqlalchemy.types import TypeDecorator

from shopfloor.core.input.run_entry import LONGEST_CODE, LONGEST_NAME
from shopfloor.core.vocabulary import Word

__all__ = ["LONGEST_CODE", "LONGEST_NAME", "Base", "UtcTime", "words"]

_LONGEST_WORD = 24


class Base(DeclarativeBase):
    """Base of all tables; constraints are named by one rule so that migrations can find them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class UtcTime(TypeDecorator[datetime]):
    """An instant, stored as UTC and read back aware; a naive time is refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Aware time to UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a time without its offset cannot be stored")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Aware UTC, whatever the database returns."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def words(vocabulary: type[Word], name: str) -> Enum:
    """Column type that holds one word of the trade by its value, checked by the database too."""
    return Enum(
        vocabulary,
        name=name,
        native_enum=False,
        create_constraint=True,
        length=_LONGEST_WORD,
        values_callable=_values,
    )


def _values(vocabulary: Any) -> list[str]:
    return [word.value for word in vocabulary]
