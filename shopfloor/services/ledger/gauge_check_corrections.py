"""Correct and cancel a gauge check; the old row stays, with who, when and why."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from shopfloor.core.input.crib_entries import CheckChange
from shopfloor.core.phrases import phrase
from shopfloor.services.ledger.gauge_checks import CheckOfTap, checks_of
from shopfloor.services.record.life_summaries import refresh
from shopfloor.services.record.revisions import (
    cancel_row,
    entry_of,
    is_cancelled,
    later_entries_agree,
    person_of,
    reason_of,
    repeated_correction,
    signed,
    versions,
)
from shopfloor.services.record.work import Work, tried_again
from shopfloor.store import GaugeCheck, Tap
from shopfloor.store.engine import hold

_REMEDY = phrase("correct or cancel that entry first")


@dataclass(frozen=True)
class CheckHistory:
    """A gauge check with all its versions, oldest first."""

    tap: str
    check: CheckOfTap
    versions: tuple[CheckOfTap, ...]


def check_history(work: Work, check_id: uuid.UUID) -> CheckHistory:
    """One check with its earlier versions.

    Raises
    ------
    NotFound    no such check
    """
    with work.read() as session:
        row = entry_of(session, GaugeCheck, check_id)
        chain = [one.id for one in versions(session, row)]
        told = {one.id: one for one in checks_of(session, row.tap_id)}
        return CheckHistory(
            session.get_one(Tap, row.tap_id).code, told[row.id], tuple(told[version] for version in chain)
        )


@tried_again
def correct_check(work: Work, check_id: uuid.UUID, change: CheckChange, reason: str, by: str) -> None:
    """Supersede a check; the same correction sent twice is stored once.

    Raises
    ------
    NotFound      no such check
    Conflict      it was corrected or cancelled in the meantime, or the tap's later runs contradict it
    InputError    no reason, an unknown person
    """
    with work.write() as session:
        old = entry_of(session, GaugeCheck, check_id)
        hold(session, Tap, {old.tap_id})
        if repeated_correction(session, old, change.id) is not None:
            return
        session.add(
            GaugeCheck(
                id=change.id,
                supersedes_id=old.id,
                checked_at=change.checked_at,
                person_id=old.person_id,
                tap_id=old.tap_id,
                result=change.result,
                note=change.note,
                **signed(session, work, reason, by),
            )
        )
        with later_entries_agree(work, "result", _REMEDY):
            refresh(session, {old.tap_id})


@tried_again
def cancel_check(work: Work, check_id: uuid.UUID, reason: str, by: str) -> None:
    """Cancel a check. Cancelling twice changes nothing.

    Raises
    ------
    NotFound      no such check
    Conflict      it was corrected: cancel the correction instead
    InputError    no reason, an unknown person
    """
    with work.write() as session:
        check = entry_of(session, GaugeCheck, check_id)
        hold(session, Tap, {check.tap_id})
        if is_cancelled(session, check):
            return
        cancel_row(session, work, check, reason_of(reason), person_of(session, by).id)
        with later_entries_agree(work, "check", _REMEDY):
            refresh(session, {check.tap_id})
