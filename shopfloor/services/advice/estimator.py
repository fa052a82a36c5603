"""Works out estimates from the whole log and keeps them as a generation, which pages then answer from.

A generation depends on the log alone, not on the one before: worked out anew, it is the same.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import suppress

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice.estimates import LogEstimates
from shopfloor.services.advice.kept_parts import WRITTEN_AS, Drawn, parts_of
from shopfloor.services.advice.lag import is_due
from shopfloor.services.advice.lease import Lease
from shopfloor.services.advice.policies import Policies, PolicyQuestion, costs_of
from shopfloor.services.advice.worked_out import WorkedOut
from shopfloor.services.record.work import UNREACHABLE, Work, reason_of
from shopfloor.store import TapType
from shopfloor.store.engine import as_of_now
from shopfloor.store.queries.generations import keep_generation, newest_generation
from shopfloor.store.queries.log_mark import log_mark

PAUSE_S = 1.0
"""Seconds between two looks at the log."""

AWAY_S = 5.0
"""Seconds to wait before trying again with a database that cannot be reached."""

_log = logging.getLogger(__name__)


def make_generation(work: Work) -> int:
    """Work out a new generation from the log as it is now; returns its number."""
    with work.read() as session:
        as_of_now(session)
        made_at = work.clock()
        mark = log_mark(session, made_at)
        log = WorkedOut(session, work.settings)
        estimates = LogEstimates(log)
        parts = parts_of(session, log, drawn_of(session, estimates), policies_of(work, session, estimates))
    with work.write() as session:
        return keep_generation(session, made_at, WRITTEN_AS, mark.text, parts)


def follow(work: Work, is_over: Callable[[float], bool]) -> None:
    """Make a new generation whenever the log has gone on, as long as nobody else does.

    Parameters
    ----------
    work       the log to follow
    is_over    waits for so many seconds, and says whether to stop
    """
    lease = Lease(work)
    try:
        while not is_over(PAUSE_S):
            try:
                keep_up(work, lease)
            except UNREACHABLE as error:
                _log.warning("Estimates cannot be worked out now: %s", reason_of(error))
                if is_over(AWAY_S):
                    return
    finally:
        with suppress(*UNREACHABLE):
            lease.give_back()


def make_next(work: Work, wait: Callable[[float], object]) -> int:
    """Make a generation as soon as nobody else does, unless they make one of the log as it is; returns its number."""
    lease = Lease(work)
    while not lease.take():
        wait(PAUSE_S)
        if newest := _newest_if_current(work):
            return newest
    try:
        with lease.kept():
            return make_generation(work)
    finally:
        lease.give_back()


def _newest_if_current(work: Work) -> int | None:
    """The number of the newest generation, if it knows all that the log says."""
    with work.read() as session:
        newest = newest_generation(session, WRITTEN_AS)
        is_current = newest is not None and newest.log_mark == log_mark(session, work.clock()).text
        return newest.number if newest is not None and is_current else None


def keep_up(work: Work, lease: Lease) -> int | None:
    """Make a generation if one is due and nobody else does; returns its number."""
    if not lease.take() or not is_due(work):
        return None
    with lease.kept():
        return make_generation(work)


def drawn_of(session: Session, estimates: LogEstimates) -> Drawn:
    """Draws in every condition of the log."""
    if not estimates.has_lives:
        return {}
    conditions = estimates.known(session)[Mode.BREAK].design.conditions
    return {mode: {one: estimates.draws(session, (one,))[mode] for one in conditions} for mode in Mode}


def policies_of(work: Work, session: Session, estimates: LogEstimates) -> Policies:
    """When to change taps in every condition of the log, at the shop's costs."""
    if not estimates.has_lives:
        return {}
    prices = session.execute(select(TapType.id, TapType.unit_cost))
    price_of = {str(key): None if price is None else float(price) for key, price in prices}
    questions = [
        PolicyQuestion(one, costs_of(work.settings, price_of.get(one.family)), work.settings.level)
        for one in estimates.known(session)[Mode.BREAK].design.conditions
    ]
    return {one: estimates.advise(session, one) for one in questions}
