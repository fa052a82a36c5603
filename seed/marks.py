"""The mark on a reground tap's shank: T0123 is T0123-R1 after its first regrind, so a code names one life in files."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import datetime

from seed.rows import Movement, Tap
from shopfloor.core.vocabulary import MovementKind


class ShankMarks:
    """Knows from the stock movements when each tap came back from the grinder."""

    def __init__(self, movements: Iterable[Movement]) -> None:
        self._back: dict[str, list[datetime]] = defaultdict(list)
        for movement in movements:
            if movement.kind is MovementKind.REGROUND and movement.tap is not None:
                self._back[movement.tap].append(movement.moved_at)

    def at(self, tap: str, moment: datetime) -> str:
        """The mark on the tap's shank at that moment."""
        return _marked(tap, bisect_right(self._back[tap], moment))

    def lives(self, tap: Tap) -> Iterator[Tap]:
        """The tap as received, then once more for each regrind."""
        yield tap
        for number, back_at in enumerate(self._back[tap.code], start=1):
            code = _marked(tap.code, number)
            yield replace(tap, code=code, regrinds=tap.regrinds + number, holes_before=0, received_at=back_at)


def _marked(tap: str, regrinds: int) -> str:
    return f"{tap}-R{regrinds}" if regrinds else tap
