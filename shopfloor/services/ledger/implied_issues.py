"""Taps used in a run although the ledger has them on the crib's shelf: the run implies that they were issued."""

from __future__ import annotations

import uuid
from collections.abc import Collection

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from shopfloor.core.input.stored_phrases import NOT_USED, TAKEN
from shopfloor.core.vocabulary import COMES_IN, MovementKind
from shopfloor.services.ledger.taps import last_movement
from shopfloor.services.record.revisions import cancel_row, versions
from shopfloor.services.record.work import Work
from shopfloor.store import Run, StockMovement, Tap
from shopfloor.store.engine import hold
from shopfloor.store.queries.log import counts


def book_taken(
    session: Session, work: Work, tap_ids: Collection[int], by: int | None, *, may_revoke: bool = True
) -> None:
    """Issue taps that a run used while the ledger had them in the crib; revoke such issues no run implies any more.

    `by` is whoever changes the runs: issues are revoked in their name, whoever made the run. `may_revoke` False: runs
    were only added, so every issue is implied as before.

    Call it in the transaction that changes the runs, before the summaries are refreshed. Calling it twice changes
    nothing. What a later count of the box has settled is left alone: the count saw what was there.
    """
    hold(session, Tap, tap_ids)
    session.flush()
    for tap_id in tap_ids:
        tap = session.get_one(Tap, tap_id)
        last = last_movement(session, tap)
        is_issued = last is not None and last.kind is MovementKind.ISSUED
        if may_revoke and last is not None and is_issued and _take_back(session, work, tap, last, by):
            last = last_movement(session, tap)
        if last is not None and last.kind in COMES_IN:
            _take_out(session, work, tap, last)


def _movement_id(run_id: uuid.UUID) -> uuid.UUID:
    return uuid.uuid5(run_id, "taken")


def _take_out(session: Session, work: Work, tap: Tap, last: StockMovement) -> None:
    used = select(Run).where(Run.tap_id == tap.id, Run.ended_at > last.moved_at, counts(Run))
    runs = session.scalars(used.order_by(Run.ended_at, Run.position))
    # With a clock that is ahead, a run may seem to come after the return of the tap that it used.
    run = next((run for run in runs if session.get(StockMovement, _movement_id(run.id)) is None), None)
    if run is None:
        return
    session.add(
        StockMovement(
            id=_movement_id(run.id),
            recorded_at=work.clock(),
            recorded_by_id=run.recorded_by_id,
            moved_at=run.ended_at,
            kind=MovementKind.ISSUED,
            tap_type_id=tap.tap_type_id,
            tap_id=tap.id,
            quantity=0 if _was_counted_since(session, tap, run) else -1,
            station_id=run.station_id,
            person_id=run.person_id,
            note=str(TAKEN),
        )
    )
    session.flush()


def _take_back(session: Session, work: Work, tap: Tap, last: StockMovement, by: int | None) -> bool:
    """Revoke the issue if a run that counts no more implied it; whether it did."""
    told_by = session.scalars(select(Run).where(Run.tap_id == tap.id, ~counts(Run)))
    first = versions(session, last)[0].id
    run = next((run for run in told_by if _movement_id(run.id) == first), None)
    if run is None or _was_counted_since(session, tap, run):
        return False
    cancel_row(session, work, last, str(NOT_USED), by)
    return True


def _was_counted_since(session: Session, tap: Tap, run: Run) -> bool:
    """Whether the box of this tap type was counted after the run, so that the stock is right anyway."""
    found = exists().where(
        StockMovement.tap_type_id == tap.tap_type_id,
        StockMovement.kind == MovementKind.COUNTED,
        StockMovement.moved_at >= run.ended_at,
        counts(StockMovement),
    )
    return bool(session.scalar(select(found)))
