"""The estimates that pages answer from: the newest kept generation or, while a log is young, the log itself.

A generation is used until the next one is there, also where the log has gone on meanwhile; a tap's own holes and slips
are read to the last one all the same (`taps_now`). Of each database the estimates last used stay in memory, the only
thing worked out from a log that does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Protocol
from weakref import WeakKeyDictionary

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopfloor.core.decision.failure_probability import expected_failure_rate
from shopfloor.core.decision.replacement_age import best_policy
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.hierarchical.inference.posterior import Posterior, experience
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.prediction.draws import Draws, draw
from shopfloor.core.hierarchical.prediction.slip_model import SlipModel
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice.kept_parts import WRITTEN_AS, Drawn, KeptParts
from shopfloor.services.advice.log_facts import NOTHING, LogFacts
from shopfloor.services.advice.made_once import MadeOnce
from shopfloor.services.advice.observed import BehindIt, TypeLives
from shopfloor.services.advice.policies import Advised, Policies, PolicyQuestion
from shopfloor.services.advice.worked_out import WorkedOut
from shopfloor.settings import Settings
from shopfloor.store.queries.generations import newest_generation
from shopfloor.store.queries.lives import are_at_most
from shopfloor.store.queries.log_mark import LogMark, log_mark

YOUNG = 100
"""Lives up to which a log without a generation is worked out at once, while the page waits: 175 lives took 0.3 s."""


class Source(Protocol):
    """Where estimates come from: kept parts, or the log itself."""

    facts: LogFacts

    def known(self, session: Session) -> Mapping[Mode, Posterior]:
        """The posterior of each mode."""

    def drawn(self, session: Session) -> Drawn:
        """Draws that are already there, of each mode by condition."""

    def policies(self, session: Session) -> Policies:
        """Policies that are already there."""

    def slip_model(self, session: Session) -> SlipModel:
        """What cutting slips foretell."""

    def evidence(self, session: Session, cutting: CuttingConditions) -> BehindIt | None:
        """The evidence under these conditions; None where there is none."""

    def lives(self, session: Session, tap_type: int) -> TypeLives:
        """The lives of one tap type."""


class LogEstimates:
    """What one state of the log says. `as_of`: when its generation was made; None: of the log as it is now.

    `is_ready` False: nothing has been worked out yet, and the log is too long to do it while somebody waits.
    """

    def __init__(self, source: Source | None, as_of: datetime | None = None) -> None:
        self.source, self.as_of = source, as_of
        self.facts = NOTHING if source is None else source.facts
        self._kept = MadeOnce()

    @property
    def is_ready(self) -> bool:
        """Whether there are any."""
        return self.source is not None

    @property
    def has_lives(self) -> bool:
        """Whether they rest on any life."""
        return self.facts.lives > 0

    def known(self, session: Session) -> Mapping[Mode, Posterior]:
        """The posterior of each mode."""
        return self.there.known(session)

    def slip_model(self, session: Session) -> SlipModel:
        """What cutting slips foretell."""
        return self.there.slip_model(session)

    def draws(self, session: Session, conditions: Sequence[Condition]) -> dict[Mode, Draws]:
        """Draws of the life distributions of each mode, jointly over the conditions."""

        def drawn() -> dict[Mode, Draws]:
            kept = self.there.drawn(session)
            if len(conditions) == 1 and all(conditions[0] in kept.get(mode, {}) for mode in Mode):
                return {mode: kept[mode][conditions[0]] for mode in Mode}
            return {mode: draw(one, conditions, stream=i) for i, (mode, one) in enumerate(self.known(session).items())}

        return self._kept.once(("draws", *conditions), drawn)

    def advised(self, session: Session, question: PolicyQuestion) -> Advised | None:
        """When to change taps; None if there is no life to tell from."""
        if not self.has_lives:
            return None
        return self._kept.once(
            question, lambda: self.there.policies(session).get(question) or self.advise(session, question)
        )

    def advise(self, session: Session, question: PolicyQuestion) -> Advised:
        """When to change taps, worked out."""
        known, draws = self.known(session), self.draws(session, (question.condition,))
        in_unit = [one.in_smaller_unit(question.usual_holes) for one in draws.values()]
        held = experience(list(known.values()), question.condition)
        policy = best_policy(in_unit, question.costs, question.level, held)
        return Advised(policy, expected_failure_rate(in_unit, list(draws).index(Mode.BREAK), policy))

    def shrinkage(self, session: Session, condition: Condition) -> float:
        """Share of what is known of breaks there that comes from other taps, and from what was known beforehand."""
        if not self.has_lives:
            return 1.0
        known = self.known(session)[Mode.BREAK]
        return self._kept.once(("shrinkage", condition), lambda: known.shrinkage(condition))

    def evidence(self, session: Session, cutting: CuttingConditions, one_mm: float) -> BehindIt | None:
        """The evidence under these conditions; None where there is none."""
        found = self.there.evidence(session, cutting) if self.has_lives else None
        times = self._times(cutting.tap_type, one_mm)
        return None if found is None else (replace(found[0], holes=times * found[0].holes), found[1])

    def lives(self, session: Session, tap_type: int, one_mm: float) -> TypeLives:
        """The lives of a tap type; in holes, or in lengths of `one_mm`."""
        if not self.has_lives:
            return TypeLives({})
        return self.there.lives(session, tap_type).in_unit(self._times(tap_type, one_mm))

    def _times(self, tap_type: int, one_mm: float) -> float:
        """How many of the units asked for one of the kept lives' units is."""
        return self.facts.one_mm / one_mm if tap_type in self.facts.usual_depths else 1.0

    @property
    def there(self) -> Source:
        """Where they come from.

        Raises
        ------
        LookupError    nothing has been worked out yet
        """
        if self.source is None:
            raise LookupError("nothing has been worked out yet")
        return self.source


_NOT_YET = LogEstimates(None)


class _AtOnce(LogEstimates):
    """Estimates of a young log, and the log's mark as long as which they hold."""

    def __init__(self, log: WorkedOut, mark: LogMark) -> None:
        super().__init__(log)
        self.mark = mark


class _Kept(LogEstimates):
    """Estimates of a kept generation."""

    def __init__(self, parts: KeptParts, number: int, made_at: datetime) -> None:
        super().__init__(parts, made_at)
        self.parts, self.number = parts, number


_current: WeakKeyDictionary[Engine, LogEstimates] = WeakKeyDictionary()
"""The estimates last used of each database."""


def current(session: Session, settings: Settings) -> LogEstimates:
    """The estimates that count now."""
    engine, newest = session.get_bind().engine, newest_generation(session, WRITTEN_AS)
    last = _current.get(engine)
    if newest is not None:
        if not isinstance(last, _Kept) or last.number != newest.number:
            parts = KeptParts(session, newest.number, last.parts if isinstance(last, _Kept) else None)
            last = _current[engine] = _Kept(parts, newest.number, newest.made_at)
        return last
    if not are_at_most(session, YOUNG):
        return _NOT_YET
    mark = log_mark(session)
    if not isinstance(last, _AtOnce) or last.mark != mark:
        last = _current[engine] = _AtOnce(WorkedOut(session, settings), mark)
    return last


def forget() -> None:
    """Forget all that is in memory, as after a start."""
    _current.clear()
