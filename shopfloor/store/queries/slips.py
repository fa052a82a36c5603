"""The runs of whole lives with their cutting slips, for a tap's risk."""

from __future__ import annotations

from typing import NamedTuple

from sqlalchemy import ColumnElement, and_, case, or_, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import DepthControl, StationKind, TapEnd, TapState
from shopfloor.store import Run, Station, TapLife
from shopfloor.store.queries.log import counts

AT_WORK = and_(TapLife.is_present, TapLife.state.in_((TapState.UNUSED, TapState.IN_SERVICE)))
"""Lives that may go on."""

_TELLS = and_(
    or_(Run.depth_control.is_(None), Run.depth_control != DepthControl.CLUTCH),
    or_(Station.kind.is_(None), Station.kind != StationKind.HAND_WRENCH),
)
"""If the clutch ends each hole it always slips; a hand wrench has none."""


class SlipRow(NamedTuple):
    """One run of a life; `slips` None if not recorded, or if they say nothing about the tap."""

    tap: int
    number: int
    holes: int
    slips: int | None
    broke: bool


def slip_rows(session: Session, lives: ColumnElement[bool]) -> list[SlipRow]:
    """Every run that counts of the usable lives among these, life after life, each in the order of its runs."""
    query = (
        select(
            Run.tap_id, TapLife.number, Run.holes_made, case((_TELLS, Run.cutting_slips)),
            Run.tap_end == TapEnd.BROKEN,
        )
        .join(TapLife, and_(TapLife.tap_id == Run.tap_id, Run.ended_at.between(TapLife.first_at, TapLife.last_at)))
        .outerjoin(Station, Station.id == Run.station_id)
        .where(TapLife.lower.is_not(None), lives, counts(Run))
        .order_by(Run.tap_id, TapLife.number, Run.ended_at, Run.position)
    )  # fmt: skip
    return [SlipRow._make(row) for row in session.execute(query)]
