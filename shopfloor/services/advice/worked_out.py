"""Estimates worked out from the log as it is now, each on first use."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from functools import cached_property

from sqlalchemy.orm import Session

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.hierarchical.inference.posterior import Posterior, posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.hierarchical.prediction.slip_model import SlipModel
from shopfloor.core.vocabulary import LifeMeasure, Mode
from shopfloor.services.advice.log_facts import LogFacts
from shopfloor.services.advice.observed import BehindIt, TypeLives, type_lives
from shopfloor.services.advice.policies import Policies
from shopfloor.services.advice.slip_book import Life, learned
from shopfloor.settings import Settings
from shopfloor.store.queries.histories import UseRow, catalogue_facts, histories_of, use_rows
from shopfloor.store.queries.lives import Lengths, stretch_rows
from shopfloor.store.queries.threaded import in_length, life_measure, usual_depths


class WorkedOut:
    """What one state of the log says; the session is the one in which that state is read."""

    def __init__(self, session: Session, settings: Settings) -> None:
        rows, is_in_length = use_rows(session), life_measure(session) is LifeMeasure.THREAD
        depths = usual_depths(rows) if is_in_length else {}
        self._rows = in_length(rows, depths) if is_in_length else rows
        self.facts = LogFacts.of(self._rows, depths, catalogue_facts(session), settings.drawn_in.thread.mm)
        self._lives: dict[int, TypeLives] = {}
        self._slip_model: SlipModel | None = None

    def known(self, session: Session) -> Mapping[Mode, Posterior]:
        """The posterior of each mode."""
        return self._known

    @cached_property
    def _known(self) -> Mapping[Mode, Posterior]:
        conditions, told = histories_of(self._rows, self.facts.catalogue)
        found = posteriors(Histories.of(told), conditions, [mode.value for mode in Mode])
        return {mode: found[mode.value] for mode in Mode}

    @cached_property
    def _by_life(self) -> dict[Life, list[UseRow]]:
        found: defaultdict[Life, list[UseRow]] = defaultdict(list)
        for row in self._rows:
            found[row.tap, row.number].append(row)
        return dict(found)

    def slip_model(self, session: Session) -> SlipModel:
        """What cutting slips foretell, learned from the newest lives."""
        if self._slip_model is None:
            self._slip_model = learned(session, self._by_life, self.facts.catalogue, self._known[Mode.BREAK])
        return self._slip_model

    def drawn(self, session: Session) -> Mapping[Mode, Mapping[Condition, Draws]]:
        """None are there beforehand."""
        return {}

    def policies(self, session: Session) -> Policies:
        """None are there beforehand."""
        return {}

    def evidence(self, session: Session, cutting: CuttingConditions) -> BehindIt | None:
        """The evidence under these conditions."""
        found = self.lives(session, cutting.tap_type).found.get(cutting)
        return None if found is None else (found.evidence, found.breaks)

    @cached_property
    def tap_types(self) -> list[int]:
        """Keys of the tap types of which a life is known."""
        return sorted({row.tap_type for row in self._rows})

    def lives(self, session: Session, tap_type: int) -> TypeLives:
        """The lives of one tap type."""
        if not self._lives:
            self._lives = self._read_lives(session)
        return self._lives.get(tap_type, TypeLives({}))

    def _read_lives(self, session: Session) -> dict[int, TypeLives]:
        """The lives of all tap types, read in one query."""
        depths, one_mm = self.facts.usual_depths, self.facts.one_mm
        lengths = {tap_type: Lengths(usual, one_mm) for tap_type, usual in depths.items()}
        found = stretch_rows(session, self.tap_types)
        return {tap_type: type_lives(of_type, lengths.get(tap_type)) for tap_type, of_type in found.items()}
