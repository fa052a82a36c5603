"""Whether the record can be used."""

from __future__ import annotations

from sqlalchemy.exc import SQLAlchemyError

from shopfloor.services.work import Work
from shopfloor.store.upgrade import is_at_head


def is_ready(work: Work) -> bool:
    """Whether the database answers and has this version's schema."""
    try:
        return is_at_head(work.engine)
    except SQLAlchemyError:
        return False
