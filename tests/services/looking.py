"""What tests of services look up in the record."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from shopfloor.services.quality.breakage import Incidents
from shopfloor.store import CribStock, DailyOutput, GaugeFailure, LifeStretch, MarkedInCrib, Tap, TapLife, TotalOutput
from shopfloor.store.queries.findings import BrokenTap
from tests.factories import Shop

_SUMS: dict[str, list[Any]] = {
    "daily_output": [DailyOutput.runs],
    "total_output": [TotalOutput.runs],
    "crib_stock": [CribStock.movements],
}


def tables(shop: Shop) -> list[list[Any]]:
    """Everything that the summary tables hold; of the sums those that are not 0."""
    found = []
    with shop.work.read() as session:
        kept: list[type[Any]] = [TapLife, LifeStretch, GaugeFailure, DailyOutput, TotalOutput, CribStock, MarkedInCrib]
        for table in kept:
            sums = _SUMS.get(table.__tablename__, [])
            query = select(*table.__table__.columns).order_by(*table.__table__.primary_key)
            found.append([tuple(row) for row in session.execute(query.where(*(one != 0 for one in sums)))])
    return found


def life_of(shop: Shop, tap: str = "T1") -> TapLife:
    """The tap's present life as the summary tables hold it."""
    with shop.work.read() as session:
        return session.scalars(select(TapLife).join(Tap, Tap.id == TapLife.tap_id).where(Tap.code == tap)).one()


def breaks(found: Incidents) -> list[BrokenTap]:
    """The breaks on a page of incidents."""
    return [one for one in found.shown if isinstance(one, BrokenTap)]
