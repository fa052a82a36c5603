"""What the holes of a job are like, as far as it is known and matters to a tap's life."""

from __future__ import annotations

from dataclasses import dataclass

from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import HoleMaking, Lubricant


@dataclass(frozen=True)
class HoleConditions:
    """The hole and what the tap is lubricated with; None where nobody said.

    `making`: a reamed hole counts as reamed, however it was opened: reaming removes the hard skin. `depth_mm`: depth of
    thread.
    """

    is_blind: bool | None = None
    making: HoleMaking | None = None
    lubricant: Lubricant | None = None
    depth_mm: float | None = None

    @classmethod
    def told(
        cls,
        is_blind: bool | None,
        making: HoleMaking | None,
        is_reamed: bool | None,
        lubricant: Lubricant | None,
        depth_mm: float | None,
    ) -> HoleConditions:
        """As a job and a run say it."""
        return cls(is_blind, HoleMaking.REAMED if is_reamed else making, lubricant, depth_mm)

    @property
    def words(self) -> tuple[str, ...]:
        """What is known, each in a word or two: 'blind', 'drilled', 'mist'."""
        hole = None if self.is_blind is None else phrase("blind") if self.is_blind else phrase("through")
        said = (hole, self.making and self.making.label.lower(), self.lubricant and self.lubricant.label.lower())
        return tuple(word for word in said if word)


NOTHING_SAID = HoleConditions()
