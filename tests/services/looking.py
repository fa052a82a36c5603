"""What tests of services look up in the record."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select

from shopfloor.services.quality.breakage import Incidents
from shopfloor.store import LifeStretch, Tap, TapLife
from shopfloor.store.queries.findings import BrokenTap
from tests.factories import Shop


def tables(shop: Shop) -> list[list[Any]]:
    """Everything that the summary tables hold."""
    with shop.work.read() as session:
        return [
            [
                tuple(row)
                for row in session.execute(select(*table.__table__.columns).order_by(*table.__table__.primary_key))
            ]
            for table in (TapLife, LifeStretch)
        ]


def life_of(shop: Shop, tap: str = "T1") -> TapLife:
    """The tap's present life as the summary tables hold it."""
    with shop.work.read() as session:
        return session.scalars(select(TapLife).join(Tap, Tap.id == TapLife.tap_id).where(Tap.code == tap)).one()


def breaks(found: Incidents) -> list[BrokenTap]:
    """The breaks on a page of incidents."""
    return [one for one in found.shown if isinstance(one, BrokenTap)]
