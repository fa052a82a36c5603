"""How far the newest generation of estimates is behind the log."""

from __future__ import annotations

from shopfloor.services.advice.estimates import YOUNG
from shopfloor.services.advice.kept_parts import WRITTEN_AS
from shopfloor.services.record.work import Work
from shopfloor.store.queries.generations import newest_generation
from shopfloor.store.queries.lives import are_at_most
from shopfloor.store.queries.log_mark import NOTHING, LogMark, first_beyond, log_mark


def is_due(work: Work) -> bool:
    """Whether the log says something that the newest generation does not know.

    A young log needs none: pages answer from it at once.
    """
    with work.read() as session:
        newest = newest_generation(session, WRITTEN_AS)
        if newest is None:
            return not are_at_most(session, YOUNG)
        return newest.log_mark != log_mark(session, work.clock()).text


def lag_s(work: Work) -> float:
    """Seconds for which the oldest entry that the newest generation does not know has been on record; 0 if none is due.

    Not those of the newest entry, which is always fresh in a shop that works, however long nobody has worked out any
    estimates. Index look-ups only, however long the log.
    """
    if not is_due(work):
        return 0.0
    with work.read() as session:
        now, newest = work.clock(), newest_generation(session, WRITTEN_AS)
        if newest is None:
            since = first_beyond(session, NOTHING, now)
        else:
            known = LogMark.read(newest.log_mark)
            # An entry that was recorded before the mark and committed after it is not found by its time.
            since = (known and first_beyond(session, known, now)) or newest.made_at
    return 0.0 if since is None else max(0.0, (now - since).total_seconds())
