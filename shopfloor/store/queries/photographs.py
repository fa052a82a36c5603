"""How many photographs a break has."""

from __future__ import annotations

import uuid
from typing import Any

from sqlalchemy import ScalarSelect, exists, func, select
from sqlalchemy.orm import InstrumentedAttribute

from shopfloor.store import Cancellation, Photograph


def photographs_that_count(run_id: uuid.UUID | InstrumentedAttribute[uuid.UUID]) -> ScalarSelect[Any]:
    """Photographs of the run of that first id (or, within a query, of each run) that were not cancelled."""
    is_cancelled = exists().where(Cancellation.entry_id == Photograph.id)
    return (
        select(func.count()).select_from(Photograph).where(Photograph.run_id == run_id, ~is_cancelled).scalar_subquery()
    )
