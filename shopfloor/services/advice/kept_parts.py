"""The parts of a kept generation: how each is named, written and read again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from sqlalchemy.orm import Session

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.hierarchical.inference.kept_posterior import packed_posterior, unpacked_posterior
from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.prediction.draws import Draws
from shopfloor.core.hierarchical.prediction.kept_draws import packed_draws, unpacked_draws
from shopfloor.core.hierarchical.prediction.slip_model import SlipModel
from shopfloor.core.packing import packed, unpacked
from shopfloor.core.survival.censored_data import Evidence
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice.log_facts import LogFacts, plain_cutting
from shopfloor.services.advice.observed import BehindIt, TypeLives
from shopfloor.services.advice.policies import Policies, packed_policies, unpacked_policies
from shopfloor.services.advice.worked_out import WorkedOut
from shopfloor.store.queries.generations import part_of, part_since

WRITTEN_AS = 2
"""Number of the way in which parts are written, and of the model behind them; raised with every change of either, so
that no program reads what another one wrote otherwise."""

_FACTS, _EVIDENCE, _POLICIES, _SLIPS = "facts", "evidence", "policies", "slips"
_Part = TypeVar("_Part")

Drawn = Mapping[Mode, Mapping[Condition, Draws]]
"""Draws of each mode by condition."""


def parts_of(session: Session, log: WorkedOut, drawn: Drawn, policies: Policies) -> dict[str, bytes]:
    """All parts of a generation, by name; `drawn` and `policies` are those of the conditions of the log."""
    if not log.facts.lives:
        return {_FACTS: packed(log.facts.plain)}
    lives = {tap_type: log.lives(session, tap_type) for tap_type in log.tap_types}
    evidence = [
        [*plain_cutting(cutting), one.evidence.taps, one.evidence.failures, one.evidence.holes, one.breaks]
        for of_type in lives.values()
        for cutting, one in of_type.found.items()
    ]
    return {
        _FACTS: packed(log.facts.plain),
        _EVIDENCE: packed(evidence),
        _POLICIES: packed_policies(policies),
        _SLIPS: packed(log.slip_model(session).plain),
        **{_posterior(mode): packed_posterior(one) for mode, one in log.known(session).items()},
        **{_draws(mode): packed_draws(one) for mode, one in drawn.items()},
        **{_lives(tap_type): one.packed for tap_type, one in lives.items()},
    }


class KeptParts:
    """The parts of one generation, each read from the database on first use.

    A part that is as it was in the generation `before` is not read again.
    """

    def __init__(self, session: Session, number: int, before: KeptParts | None = None) -> None:
        self._number = number
        self._read: dict[str, tuple[int, Any]] = {}
        self._earlier: dict[str, tuple[int, Any]] = {} if before is None else before._earlier | before._read
        self.facts = self._part(session, _FACTS, _unpacked_facts)

    def known(self, session: Session) -> Mapping[Mode, Posterior]:
        """The posterior of each mode."""
        return {mode: self._part(session, _posterior(mode), unpacked_posterior) for mode in Mode}

    def drawn(self, session: Session) -> Drawn:
        """Draws of each mode in every condition of the log."""
        return {mode: self._part(session, _draws(mode), unpacked_draws) for mode in Mode}

    def policies(self, session: Session) -> Policies:
        """What was found for the conditions of the log at the shop's costs."""
        return self._part(session, _POLICIES, unpacked_policies)

    def slip_model(self, session: Session) -> SlipModel:
        """What cutting slips foretell."""
        return self._part(session, _SLIPS, lambda body: SlipModel.of_plain(unpacked(body)[0]))

    def evidence(self, session: Session, cutting: CuttingConditions) -> BehindIt | None:
        """The evidence under these conditions, exact ones or wider."""
        return self._part(session, _EVIDENCE, _unpacked_evidence).get(cutting)

    def lives(self, session: Session, tap_type: int) -> TypeLives:
        """The lives of one tap type."""
        is_known = any(cutting.tap_type == tap_type for cutting in self.facts.usual_holes)
        return self._part(session, _lives(tap_type), TypeLives.unpacked) if is_known else TypeLives({})

    def _part(self, session: Session, name: str, unpack: Callable[[bytes], _Part]) -> _Part:
        if name not in self._read:
            last = self._earlier.pop(name, None)
            if last is None or last[0] != part_since(session, name, self._number):
                since, body = part_of(session, name, self._number)
                last = since, unpack(body)
            self._read[name] = last
        found: _Part = self._read[name][1]
        return found


def _posterior(mode: Mode) -> str:
    return f"posterior {mode.value}"


def _draws(mode: Mode) -> str:
    return f"draws {mode.value}"


def _lives(tap_type: int) -> str:
    return f"lives {tap_type}"


def _unpacked_facts(body: bytes) -> LogFacts:
    return LogFacts.of_plain(unpacked(body)[0])


def _unpacked_evidence(body: bytes) -> Mapping[CuttingConditions, BehindIt]:
    return {
        CuttingConditions(*cutting): (Evidence(taps, failures, holes), breaks)
        for *cutting, taps, failures, holes, breaks in unpacked(body)[0]
    }
