"""What cutting slips say about living taps: learned from the newest lives of the log, read in one query."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

import numpy as np
from sqlalchemy import ColumnElement, or_
from sqlalchemy.orm import Session

from shopfloor.core.hierarchical.inference.posterior import Posterior
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.prediction.slip_factor import SlipEvidence
from shopfloor.core.hierarchical.prediction.slip_model import SlipModel, SlipRuns, fit_slip_model
from shopfloor.store import TapLife
from shopfloor.store.queries.histories import CatalogueFacts, UseRow
from shopfloor.store.queries.slips import AT_WORK, slip_rows

Life = tuple[int, int]
"""Tap and number of the life."""

MOST_RUNS = 20_000
"""Number of runs that the slip model learns from, those of the newest taps: more would add time, not knowledge."""

HARDLY = 0.01
"""Share of new entries after which the slip model is learned again; a tap's own slips are always current."""


@dataclass(frozen=True)
class Learned:
    """The slip model, and how many entries the log held when it was learned."""

    model: SlipModel
    entries: int

    def is_old(self, entries: int) -> bool:
        """Whether the model should be learned again for a log of so many entries."""
        return abs(entries - self.entries) > HARDLY * self.entries


@dataclass(frozen=True)
class UsableLives:
    """The usable lives of a log by tap and number, in that order, with the catalogue's facts on their conditions."""

    lives: dict[Life, list[UseRow]]
    catalogue: CatalogueFacts

    def newest_of(self, most_runs: int) -> int:
        """The first of the newest taps that together made so many runs."""
        left, first = most_runs, 0
        for (tap, _), stretches in reversed(self.lives.items()):
            left -= sum(row.runs for row in stretches)
            if left < 0:
                return first or tap
            first = tap
        return first


@dataclass(frozen=True)
class SlipBook:
    """What slips say about each living tap that has made a run, and the model behind it."""

    learned: Learned
    evidence: dict[Life, SlipEvidence]

    @classmethod
    def read(
        cls, session: Session, table: UsableLives, known: Posterior, entries: int, before: Learned | None
    ) -> SlipBook:
        """The book of a log of so many entries, read in one query; what was learned `before` is reused while recent."""
        if before is not None and not before.is_old(entries):
            runs, lives = _runs(session, table, AT_WORK)
            return cls(before, _evidence(before.model, runs, known, lives))
        first = table.newest_of(MOST_RUNS)
        runs, lives = _runs(session, table, or_(AT_WORK, TapLife.tap_id >= first))
        model = fit_slip_model(runs.since(bisect_left(lives, (first, 0))), known)
        return cls(Learned(model, entries), _evidence(model, runs, known, lives))


def _evidence(model: SlipModel, runs: SlipRuns, known: Posterior, lives: Sequence[Life]) -> dict[Life, SlipEvidence]:
    return {lives[number]: told for number, told in model.now(runs, known).items()}


def _runs(session: Session, table: UsableLives, which: ColumnElement[bool]) -> tuple[SlipRuns, list[Life]]:
    """The runs of these lives, each in the condition of its stretch; and the lives by their numbers."""
    places = _Places(table.catalogue)
    lives: list[Life] = []
    found: list[tuple[float, ...]] = []
    for life, of_life in groupby(slip_rows(session, which), key=itemgetter(0, 1)):
        left = list(of_life)
        for row in table.lives.get(life, ()):
            runs, left = left[: row.runs], left[row.runs :]
            # If lives are measured in length of thread, a stretch is as long as its holes are deep.
            each = (row.end - row.start) / max(1, sum(run.holes for run in runs))
            before = float(row.entry or 0) if row.start == row.entry else 0.0
            for run in runs:
                slips = math.nan if run.slips is None else run.slips
                found.append((len(lives), places.of(row), run.holes, each * run.holes, before, slips, run.broke))
                before = 0.0
        lives.append(life)
    number, condition, holes, life_holes, entry, slipped, broke = np.array(found, float).reshape(-1, 7).T
    told = SlipRuns(
        number.astype(np.int64), condition.astype(np.int64), places.conditions, holes, life_holes, entry, slipped,
        broke > 0,
    )  # fmt: skip
    return told, lives


class _Places:
    """The conditions of stretches, each once."""

    def __init__(self, catalogue: CatalogueFacts) -> None:
        self._catalogue = catalogue
        self._number: dict[tuple[object, ...], int] = {}
        self._conditions: list[Condition] = []

    @property
    def conditions(self) -> tuple[Condition, ...]:
        return tuple(self._conditions)

    def of(self, row: UseRow) -> int:
        """The place of a stretch's condition."""
        is_reground = row.number > 0
        key = (*row.kind, is_reground)
        if key not in self._number:
            self._number[key] = len(self._conditions)
            condition = self._catalogue.condition(row.cutting, row.hole, is_reground=is_reground)
            self._conditions.append(condition)
        return self._number[key]
