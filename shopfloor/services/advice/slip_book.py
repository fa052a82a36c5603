"""What cutting slips say about living taps, and what the newest lives of the log teach about it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby
from operator import itemgetter

import numpy as np
from sqlalchemy import ColumnElement, and_
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

UsesOfLives = Mapping[Life, Sequence[UseRow]]
"""Usable lives by tap and number, in that order, each with its stretches."""

MOST_RUNS = 20_000
"""Number of runs that the slip model learns from, those of the newest taps: more would add time, not knowledge."""


def learned(session: Session, lives: UsesOfLives, catalogue: CatalogueFacts, known: Posterior) -> SlipModel:
    """What the newest of the usable lives of a log teach."""
    first = _newest_of(lives, MOST_RUNS)
    runs, _ = _runs(session, lives, catalogue, TapLife.tap_id >= first)
    return fit_slip_model(runs, known)


def evidence(
    session: Session, lives: UsesOfLives, catalogue: CatalogueFacts, known: Posterior, model: SlipModel
) -> dict[Life, SlipEvidence]:
    """What slips say about the coming holes of those of these lives that may go on, read in one query."""
    which = and_(AT_WORK, TapLife.tap_id.in_({tap for tap, _ in lives}))
    runs, told = _runs(session, lives, catalogue, which)
    return {told[number]: found for number, found in model.now(runs, known).items()}


def _newest_of(lives: UsesOfLives, most_runs: int) -> int:
    """The first of the newest taps that together made so many runs."""
    left, first = most_runs, 0
    for (tap, _), stretches in reversed(list(lives.items())):
        left -= sum(row.runs for row in stretches)
        if left < 0:
            return first or tap
        first = tap
    return first


def _runs(
    session: Session, table: UsesOfLives, catalogue: CatalogueFacts, which: ColumnElement[bool]
) -> tuple[SlipRuns, list[Life]]:
    """The runs of these lives, each in the condition of its stretch; and the lives by their numbers."""
    places = _Places(catalogue)
    told: list[Life] = []
    found: list[tuple[float, ...]] = []
    for life, of_life in groupby(slip_rows(session, which), key=itemgetter(0, 1)):
        left = list(of_life)
        for row in table.get(life, ()):
            runs, left = left[: row.runs], left[row.runs :]
            # If lives are measured in length of thread, a stretch is as long as its holes are deep.
            each = (row.end - row.start) / max(1, sum(run.holes for run in runs))
            before = float(row.entry or 0) if row.start == row.entry else 0.0
            for run in runs:
                slips = math.nan if run.slips is None else run.slips
                found.append((len(told), places.of(row), run.holes, each * run.holes, before, slips, run.broke))
                before = 0.0
        told.append(life)
    number, condition, holes, life_holes, entry, slipped, broke = np.array(found, float).reshape(-1, 7).T
    read = SlipRuns(
        number.astype(np.int64), condition.astype(np.int64), places.conditions, holes, life_holes, entry, slipped,
        broke > 0,
    )  # fmt: skip
    return read, told


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
