"""What taps were used on up to now: their stretches and slips, read from the log for the taps asked about alone."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from itertools import groupby
from operator import attrgetter

from sqlalchemy.orm import Session

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.core.floor.hole_conditions import HoleConditions
from shopfloor.core.hierarchical.model.conditions import Condition
from shopfloor.core.hierarchical.prediction.slip_factor import NO_SLIPS, SlipEvidence
from shopfloor.core.vocabulary import Mode
from shopfloor.services.advice.estimates import LogEstimates
from shopfloor.services.advice.slip_book import Life, evidence
from shopfloor.store.queries.histories import UseRow, catalogue_facts, use_rows
from shopfloor.store.queries.threaded import in_length

Past = tuple[tuple[Condition, float], ...]
"""What a life was spent on: holes by condition."""

_AT_ONCE = 500


class TapsNow:
    """The lives of the taps asked about, as the log has them now, in the conditions and the unit of the estimates."""

    def __init__(self, session: Session, estimates: LogEstimates) -> None:
        self._session, self._estimates = session, estimates
        self._catalogue = estimates.facts.catalogue
        self._lives: dict[Life, list[UseRow]] = {}
        self._slips: dict[Life, SlipEvidence] = {}
        self._read: set[int] = set()
        self._slips_read: set[int] = set()

    def condition(self, cutting: CuttingConditions, hole: HoleConditions, *, is_reground: bool) -> Condition:
        """The conditions as the posterior knows them; what the catalogue has gained since then is looked up."""
        self._complete([cutting])
        return self._catalogue.condition(cutting, hole, is_reground=is_reground)

    def read(self, taps: Collection[int]) -> None:
        """Read the lives of these taps together; those of a tap that is asked for later are read by themselves."""
        new, usual = sorted(set(taps) - self._read), self._estimates.facts.usual_depths
        for start in range(0, len(new), _AT_ONCE):
            rows = use_rows(self._session, new[start : start + _AT_ONCE])
            self._complete(row.cutting for row in rows)
            rows = in_length(rows, usual) if usual else rows
            self._lives |= {life: list(of_life) for life, of_life in groupby(rows, key=attrgetter("tap", "number"))}
        self._read.update(new)

    def past(self, tap: int, number: int) -> Past:
        """What a life was spent on so far; unseen earlier holes count to the first condition.

        If lives are measured in length of thread, they are holes of the usual depth.
        """
        self.read([tap])
        holes: dict[Condition, float] = {}
        for row in self._lives.get((tap, number), ()):
            condition = self.condition(row.cutting, row.hole, is_reground=number > 0)
            before = 0.0 if holes else float(row.entry or 0)
            holes[condition] = holes.get(condition, 0.0) + before + row.end - row.start
        return tuple(holes.items())

    def slips(self, tap: int, number: int) -> SlipEvidence:
        """What the recent cutting slips of a living tap say about its next holes."""
        if not self._estimates.has_lives:
            return NO_SLIPS
        self.read([tap])
        if tap not in self._slips_read:
            self._read_slips()
        return self._slips.get((tap, number), NO_SLIPS)

    def _read_slips(self) -> None:
        """Read the slips of all taps whose lives have been read."""
        model = self._estimates.slip_model(self._session)
        new = self._read - self._slips_read
        self._slips_read.update(new)
        if model.strength == 0:
            return
        lives = {life: rows for life, rows in self._lives.items() if life[0] in new}
        known = self._estimates.known(self._session)[Mode.BREAK]
        self._slips |= evidence(self._session, lives, self._catalogue, known, model)

    def _complete(self, seen: Iterable[CuttingConditions]) -> None:
        if not all(self._catalogue.knows(cutting) for cutting in seen):
            self._catalogue = self._catalogue.completed(catalogue_facts(self._session))
