"""One state of the log: its posterior and all that follows from it, cached for as long as the log stays the same.

The log only grows, so its counts tell whether it is unchanged (`store.queries.version`). When it has changed, the
search starts from the last posterior. Advice without a job is for what most holes of the cutting conditions were like
(`LogPosterior.usual`).
"""

from __future__ import annotations

import gc
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from weakref import WeakKeyDictionary

from sqlalchemy import Engine
from sqlalchemy.orm import Session

from shopfloor.core.decision.replacement_age import Costs, ReplacementPolicy, best_policy
from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.hierarchical.inference.posterior import Posterior, experience, posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories
from shopfloor.core.hierarchical.model.exploration import Experience
from shopfloor.core.hierarchical.prediction.draws import Draws, draw
from shopfloor.core.hierarchical.prediction.slip_factor import NO_SLIPS, SlipEvidence
from shopfloor.core.vocabulary import LifeMeasure, Mode
from shopfloor.services.advice.derived import derived, kept
from shopfloor.services.advice.observations import Observations
from shopfloor.services.advice.slip_book import Learned, Life, SlipBook, UsableLives
from shopfloor.services.record.work import Work
from shopfloor.store.queries.histories import CatalogueFacts, UseRow, histories_of, use_rows
from shopfloor.store.queries.lives import Gathered
from shopfloor.store.queries.threaded import in_length, usual_depths
from shopfloor.store.queries.version import Version, version_of

Past = tuple[tuple[Condition, float], ...]

_LOGS_KEPT = 16

MANY_LIVES, HARDLY = 5000, 0.002
"""Where one in five hundred of so many lives went on or ended since the posterior was found, what it says of the next
hole is the same to all that a page shows; so it stays, and the tap's own holes are counted to the last one all the
same. The posterior of 14,000 lives takes seconds."""


def read_ahead(work: Work) -> None:
    """Compute the posterior in advance, so that the first page need not wait for it."""
    with work.read() as session:
        LogPosterior(session).read()
    # What lives on from here is frozen; otherwise garbage collection would traverse a large log after every run.
    gc.collect()
    gc.freeze()


class LogPosterior:
    """What the whole log says about lives under any conditions."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._log = _state_of(session)

    def read(self) -> None:
        """Compute everything now, if the log holds anything."""
        if self.has_lives:
            _ = self._log.slips(self._session)

    @property
    def has_lives(self) -> bool:
        """Whether the log holds any use of a tap."""
        return bool(self._log.rows)

    @property
    def failures(self) -> int:
        """Failures in the log."""
        return self._log.failures

    def condition(self, cutting: CuttingConditions, hole: HoleConditions, *, is_reground: bool) -> Condition:
        """The conditions as the posterior knows them."""
        return self._log.catalogue.condition(cutting, hole, is_reground=is_reground)

    def usual(self, cutting: CuttingConditions) -> HoleConditions:
        """What most of the holes under these conditions were like; nothing known if there were none."""
        made = self._log.made.get(cutting)
        return HoleConditions() if made is None else made.most_common(1)[0][0]

    def draws(self, *conditions: Condition) -> dict[Mode, Draws]:
        """Draws of the life distributions of each mode, jointly over the conditions."""
        drawn = self._log.basis.drawn
        if conditions not in drawn:
            known = enumerate(self._log.known.items())
            drawn[conditions] = {mode: draw(one, conditions, stream=i) for i, (mode, one) in known}
        return drawn[conditions]

    def experience(self, condition: Condition) -> Experience:
        """How much the log holds, in all and in the condition."""
        return experience(list(self._log.known.values()), condition)

    def change(self, condition: Condition, costs: Costs, level: float, usual_holes: float) -> ReplacementPolicy | None:
        """When to change taps in the condition, cached with the posterior; None if the log holds nothing.

        Ages are in holes worth `usual_holes` of the usual depth each.
        """
        if not self.has_lives:
            return None
        kept, key = self._log.basis.changes, (condition, costs, level, usual_holes)
        if key not in kept:
            draws = [one.in_smaller_unit(usual_holes) for one in self.draws(condition).values()]
            kept[key] = best_policy(draws, costs, level, self.experience(condition))
        return kept[key]

    def shrinkage(self, condition: Condition) -> float:
        """Share of what is known of breaks there that comes from other taps, and from what was known beforehand."""
        kept = self._log.basis.shrinkage
        if condition not in kept:
            kept[condition] = self._log.known[Mode.BREAK].shrinkage(condition)
        return kept[condition]

    def gathered(
        self, session: Session, tap_types: Collection[int] | None, one_mm: float
    ) -> Mapping[CuttingConditions, Gathered]:
        """The observations by cutting conditions, read once for a state of the log; in holes or lengths of `one_mm`."""
        return self._log.observations.of(session, tap_types, one_mm)

    def depth(self, tap_type: int) -> float | None:
        """Usual depth of thread of the type in mm, if lives are measured in length of thread and it is known."""
        return self._log.usual_depths.get(tap_type)

    def past(self, tap: int, number: int) -> Past:
        """What a life was spent on so far: holes by condition; unseen earlier ones count to the first condition.

        If lives are measured in length of thread, they are holes of the usual depth.
        """
        holes: dict[Condition, float] = {}
        for row in self._log.by_life.get((tap, number), ()):
            condition = self.condition(row.cutting, row.hole, is_reground=number > 0)
            before = 0.0 if holes else float(row.entry or 0)
            holes[condition] = holes.get(condition, 0.0) + before + row.end - row.start
        return tuple(holes.items())

    def slips(self, tap: int, number: int) -> SlipEvidence:
        """What the recent cutting slips of a living tap say about its next holes; all taps are read at once."""
        return self._log.slips(self._session).get((tap, number), NO_SLIPS)


@dataclass(frozen=True)
class _Basis:
    """A log with its posterior and what follows from that alone, computed on first use."""

    rows: tuple[UseRow, ...]
    catalogue: CatalogueFacts
    drawn: dict[tuple[Condition, ...], dict[Mode, Draws]] = field(default_factory=dict, compare=False)
    changes: dict[tuple[Condition, Costs, float, float], ReplacementPolicy] = field(default_factory=dict, compare=False)
    shrinkage: dict[Condition, float] = field(default_factory=dict, compare=False)

    @cached_property
    def known(self) -> Mapping[Mode, Posterior]:
        return _known(self.rows, self.catalogue)


class LogState:
    """One state of the log, which owns all that follows from it, computed on first use."""

    def __init__(self, session: Session, version: Version, before: LogState | None) -> None:
        self.version = version
        self._basis = None if before is None else before.basis
        self._learned: Learned | None = None if before is None else before._learned
        self._slips: dict[Life, SlipEvidence] | None = None
        rows = use_rows(session)
        is_in_length = version.measure is LifeMeasure.THREAD
        self.usual_depths = usual_depths(rows) if is_in_length else {}
        self.rows = in_length(rows, self.usual_depths) if is_in_length else rows
        self.catalogue = CatalogueFacts.of(version.materials, ((key, coating) for key, _, coating in version.tap_types))
        tap_types, last = [key for key, *_ in version.tap_types], None if before is None else before.observations
        self.observations: Observations = Observations(tap_types, self.usual_depths, last)

    @cached_property
    def failures(self) -> int:
        """Lives that ended in a failure."""
        return len({(row.tap, row.number) for row in self.rows if row.mode is not None})

    @cached_property
    def basis(self) -> _Basis:
        """The posterior with its log: an earlier one, if hardly any of its many lives has changed."""
        last, self._basis = self._basis, None
        if last is not None and last.catalogue == self.catalogue and self._is_hardly_changed(last.rows):
            return last
        return _Basis(self.rows, self.catalogue)

    @property
    def known(self) -> Mapping[Mode, Posterior]:
        """The posterior of each mode."""
        return self.basis.known

    def slips(self, session: Session) -> Mapping[Life, SlipEvidence]:
        """What cutting slips say about each living tap, by its life."""
        if self._slips is None:
            table, known = UsableLives(self.by_life, self.catalogue), self.known[Mode.BREAK]
            book = SlipBook.read(session, table, known, self.version.entries, self._learned)
            self._learned, self._slips = book.learned, book.evidence
        return self._slips

    def _is_hardly_changed(self, rows: tuple[UseRow, ...]) -> bool:
        lives = len(self.by_life)
        changed = {(row.tap, row.number) for row in set(rows) ^ set(self.rows)} if lives >= MANY_LIVES else ()
        return lives >= MANY_LIVES and len(changed) <= HARDLY * lives

    @cached_property
    def by_life(self) -> dict[Life, list[UseRow]]:
        """What each life was spent on, in order."""
        found: defaultdict[Life, list[UseRow]] = defaultdict(list)
        for row in self.rows:
            found[row.tap, row.number].append(row)
        return dict(found)

    @cached_property
    def made(self) -> dict[CuttingConditions, Counter[HoleConditions]]:
        """Holes by what they were like, under each of the cutting conditions."""
        one_of: dict[tuple[object, ...], UseRow] = {}
        made: Counter[tuple[object, ...]] = Counter()
        for row in self.rows:
            one_of.setdefault(row.kind, row)
            made[row.kind] += round(row.end - row.start)
        found: defaultdict[CuttingConditions, Counter[HoleConditions]] = defaultdict(Counter)
        for kind, row in one_of.items():
            found[row.cutting][row.hole] += made[kind]
        return dict(found)


_states: WeakKeyDictionary[Engine, LogState] = kept(WeakKeyDictionary())
"""The last state read of each database: as long as it is current, nothing is read or computed twice."""


def _state_of(session: Session) -> LogState:
    engine, version = session.get_bind().engine, version_of(session)
    state = _states.get(engine)
    if state is None or state.version != version:
        state = _states[engine] = LogState(session, version, state)
    return state


@derived(most=_LOGS_KEPT)
def _known(rows: tuple[UseRow, ...], catalogue: CatalogueFacts) -> Mapping[Mode, Posterior]:
    conditions, told = histories_of(rows, catalogue)
    histories = Histories.of(told)
    found = posteriors(histories, conditions, [mode.value for mode in Mode], _nearest)
    _nearest.update(found)
    return {mode: found[mode.value] for mode in Mode}


_nearest: dict[str, Posterior] = kept({})
"""The posterior of the last log: the next one differs little, so its search starts from there."""
