"""Access tables: hashed secrets, enrolled tablets, log-ins, attempts.

No PIN, password or token is stored anywhere: PINs and passwords as Argon2id hashes, tokens (which are long and random)
as SHA-256.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from shopfloor.core.vocabulary import Attempt
from shopfloor.store.base import LONGEST_CODE, LONGEST_NAME, Base, UtcTime, words

_HASH = 64
_LONGEST_SECRET_HASH = 200


class PersonSecret(Base):
    """The PIN or the password of a person, hashed. Only a password gives more than an operator's rights."""

    __tablename__ = "person_secret"

    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), primary_key=True)
    secret_hash: Mapped[str] = mapped_column(String(_LONGEST_SECRET_HASH))
    is_password: Mapped[bool]
    set_at: Mapped[datetime] = mapped_column(UtcTime)


class Tablet(Base):
    """A tablet that a supervisor enrolled; `token_hash` is the fingerprint of its browser's token."""

    __tablename__ = "tablet"

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(LONGEST_NAME))
    token_hash: Mapped[str] = mapped_column(String(_HASH), unique=True)
    enrolled_at: Mapped[datetime] = mapped_column(UtcTime)
    enrolled_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    used_at: Mapped[datetime] = mapped_column(UtcTime)
    revoked_at: Mapped[datetime | None] = mapped_column(UtcTime)


class SignIn(Base):
    """One log-in of a person, at a tablet or (tablet NULL, with a password) elsewhere.

    `token_hash` NULL: the PIN was given for entries waiting on the tablet; nobody works under this log-in.
    """

    __tablename__ = "sign_in"

    id: Mapped[int] = mapped_column(primary_key=True)
    token_hash: Mapped[str | None] = mapped_column(String(_HASH), unique=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    tablet_id: Mapped[int | None] = mapped_column(ForeignKey("tablet.id"))
    is_password: Mapped[bool]
    started_at: Mapped[datetime] = mapped_column(UtcTime)
    seen_at: Mapped[datetime] = mapped_column(UtcTime)
    ended_at: Mapped[datetime | None] = mapped_column(UtcTime)

    __table_args__ = (Index("ix_sign_in_person_tablet", "person_id", "tablet_id"),)


class SignInAttempt(Base):
    """One attempt to log in. `code` is the person's, or the fingerprint of a name that nobody has.

    Where it came from is the tablet, or else the network `address`. It is written down as wrong before the secret is
    looked at; a right one is a second row, whose `settles_id` is the first one's id. The database refuses to change or
    delete a row.
    """

    __tablename__ = "sign_in_attempt"

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(UtcTime)
    code: Mapped[str] = mapped_column(String(LONGEST_CODE))
    tablet_id: Mapped[int | None] = mapped_column(ForeignKey("tablet.id"))
    outcome: Mapped[Attempt] = mapped_column(words(Attempt, "outcome"))
    address: Mapped[str | None] = mapped_column(String(LONGEST_CODE))
    settles_id: Mapped[int | None]

    __table_args__ = (
        Index("ix_sign_in_attempt_code", "code", "id"),
        Index("ix_sign_in_attempt_tablet", "tablet_id", "id"),
        Index("ix_sign_in_attempt_address", "address", "id"),
        Index("ix_sign_in_attempt_at", "at"),
    )
