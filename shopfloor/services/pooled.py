"""The pooled posterior of this shop's log, kept as long as the log tells the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property, lru_cache

from sqlalchemy.orm import Session

from shopfloor.core.pool.conditions import Condition, Histories
from shopfloor.core.pool.laws import Laws, draw
from shopfloor.core.pool.posterior import Posterior, posterior
from shopfloor.core.vocabulary import IsoGroup, Mode
from shopfloor.services.work import Work
from shopfloor.store.queries.histories import UseRow, condition_of, histories_of, iso_groups, use_rows
from shopfloor.store.queries.lives import Situation

Past = tuple[tuple[Condition, float], ...]
Groups = tuple[tuple[int, IsoGroup | None], ...]

_LOGS_KEPT = 16


def read_ahead(work: Work) -> None:
    """Work out what the log tells, so that the first page need not wait for it."""
    with work.read() as session:
        Pool(session).read()


class Pool:
    """What the whole log tells of every situation."""

    def __init__(self, session: Session) -> None:
        self._rows = use_rows(session)
        self._drawn: dict[tuple[Condition, ...], dict[Mode, Laws]] = {}
        self._groups: Groups = tuple(sorted(iso_groups(session).items()))

    def read(self) -> None:
        """Work out what the log tells of every situation now, if it tells anything."""
        if self.failures:
            _ = self._known

    @cached_property
    def failures(self) -> int:
        """Failures in the log."""
        return len({(row.tap, row.number) for row in self._rows if row.mode is not None})

    def condition(self, situation: Situation) -> Condition:
        """The situation as the posterior knows it."""
        return condition_of(situation, dict(self._groups))

    def laws(self, *conditions: Condition) -> dict[Mode, Laws]:
        """Draws of the laws of each mode, jointly over the conditions."""
        if conditions not in self._drawn:
            known = enumerate(self._known.items())
            self._drawn[conditions] = {mode: draw(one, conditions, stream=i) for i, (mode, one) in known}
        return self._drawn[conditions]

    def leaning(self, condition: Condition) -> float:
        """Share of what is known of breaks there that comes from other taps, and from what was known beforehand."""
        return self._known[Mode.BREAK].leaning(condition)

    def past(self, tap: int, number: int) -> Past:
        """What a life was spent on so far: holes by condition, those before it was first seen counted to its first."""
        return self._pasts.get((tap, number), ())

    @cached_property
    def _known(self) -> Mapping[Mode, Posterior]:
        return _known(self._rows, self._groups)

    @cached_property
    def _pasts(self) -> dict[tuple[int, int], Past]:
        holes: defaultdict[tuple[int, int], dict[Condition, float]] = defaultdict(dict)
        for row in self._rows:
            of_life = holes[row.tap, row.number]
            condition = self.condition(Situation(row.tap_type, row.material, row.speed_band))
            before = 0.0 if of_life else float(row.entry or 0)
            of_life[condition] = of_life.get(condition, 0.0) + before + row.end - row.start
        return {life: tuple(spent.items()) for life, spent in holes.items()}


@lru_cache(maxsize=_LOGS_KEPT)
def _known(rows: tuple[UseRow, ...], groups: Groups) -> Mapping[Mode, Posterior]:
    conditions, told = histories_of(rows, dict(groups))
    histories = Histories.of(told, len(conditions))
    modes = {}
    for mode in Mode:
        _nearest[mode] = modes[mode] = posterior(histories, conditions, mode.value, near=_nearest.get(mode))
    return modes


_nearest: dict[Mode, Posterior] = {}
"""The posterior of the last log that was read: the next one differs little, so it starts from there."""
