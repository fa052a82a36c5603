"""Kept estimates: what was worked out from a state of the log, in numbered generations, and who works it out.

Nothing here is entered by anybody: all of it follows from the log and can be worked out again.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import LargeBinary, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from shopfloor.store.base import LONGEST_CODE, LONGEST_NAME, Base, UtcTime


class EstimateGeneration(Base):
    """What was worked out from one state of the log, which `log_mark` names.

    `written_as` is the way in which its parts are written: another program may not be able to read them.
    """

    __tablename__ = "estimate_generation"

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    made_at: Mapped[datetime] = mapped_column(UtcTime)
    written_as: Mapped[int]
    log_mark: Mapped[str] = mapped_column(Text)


class EstimatePart(Base):
    """A part of the generations from `since` on, until a later row of the same name takes its place.

    A part that a new generation leaves as it was is not stored again. `body` NULL: from here on there is no such part.
    """

    __tablename__ = "estimate_part"

    name: Mapped[str] = mapped_column(String(LONGEST_CODE), primary_key=True)
    since: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    body: Mapped[bytes | None] = mapped_column(LargeBinary)


class EstimatorLease(Base):
    """Who works out estimates, and until when nobody else does; one row."""

    __tablename__ = "estimator_lease"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    holder: Mapped[str] = mapped_column(String(LONGEST_NAME))
    until: Mapped[datetime] = mapped_column(UtcTime)
