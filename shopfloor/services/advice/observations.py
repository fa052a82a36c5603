"""The observations of one state of the log; unchanged tap types share those of the state before."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopfloor.core.floor.cutting import CuttingConditions
from shopfloor.store.queries.lives import Gathered, Lengths, Stretches, gather, stretch_rows


@dataclass(frozen=True)
class _OfType:
    """A tap type's observations, and what they were gathered from."""

    stretches: Stretches
    lengths: Lengths | None
    found: Mapping[CuttingConditions, Gathered]


class Observations:
    """The observations of one state of the log, read on first use.

    `tap_types`: all of them. `usual_depths`: in mm, of those whose lives are measured in length of thread. `before`: an
    earlier state.
    """

    def __init__(
        self, tap_types: Collection[int], usual_depths: Mapping[int, float], before: Observations | None
    ) -> None:
        self._tap_types = tap_types
        self._usual_depths = usual_depths
        self._stretches: dict[int, Stretches] = {}
        self._found: dict[tuple[int, float], _OfType] = {}
        self._earlier: dict[tuple[int, float], _OfType] = {} if before is None else before._earlier | before._found

    def of(
        self, session: Session, tap_types: Collection[int] | None, one_mm: float
    ) -> dict[CuttingConditions, Gathered]:
        """Observations by cutting conditions, for some tap types or all; in holes, or in lengths of `one_mm`."""
        wanted = dict.fromkeys(self._tap_types if tap_types is None else tap_types)
        new = [one for one in wanted if one not in self._stretches]
        if new:
            self._stretches |= dict.fromkeys(new, ()) | stretch_rows(session, new)
        found: dict[CuttingConditions, Gathered] = {}
        for tap_type in wanted:
            found.update(self._of_type(tap_type, one_mm))
        return found

    def _of_type(self, tap_type: int, one_mm: float) -> Mapping[CuttingConditions, Gathered]:
        key = tap_type, one_mm
        if key not in self._found:
            stretches, usual = self._stretches[tap_type], self._usual_depths.get(tap_type)
            lengths, last = None if usual is None else Lengths(usual, one_mm), self._earlier.pop(key, None)
            if last is None or (last.stretches, last.lengths) != (stretches, lengths):
                last = _OfType(stretches, lengths, gather(stretches, lengths))
            self._found[key] = last
        return self._found[key].found
