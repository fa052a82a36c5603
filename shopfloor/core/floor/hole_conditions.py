"""What the holes of a job are like, as far as it is known and matters to a tap's life."""

from __future__ import annotations

from dataclasses import dataclass

from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import HoleMaking, Lubricant


@dataclass(frozen=True)
class HoleConditions:
    """The hole and its lubricant; None where nobody said.

    Attributes
    ----------
    is_blind     whether the hole is blind
    making       how it was made; a reamed hole counts as reamed, however it was opened, as that removes a hard skin
    lubricant    on the tap
    depth_mm     depth of thread
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
        """From what a job and a run record.

        Parameters
        ----------
        is_blind     whether the hole is blind
        making       how it was opened
        is_reamed    whether it was reamed afterwards
        lubricant    on the tap
        depth_mm     depth of thread
        """
        return cls(is_blind, HoleMaking.REAMED if is_reamed else making, lubricant, depth_mm)

    @property
    def words(self) -> tuple[str, ...]:
        """What is known, each in a word or two: 'blind', 'drilled', 'mist'."""
        hole = None if self.is_blind is None else phrase("blind") if self.is_blind else phrase("through")
        said = (hole, self.making and self.making.label.lower(), self.lubricant and self.lubricant.label.lower())
        return tuple(word for word in said if word)


NOTHING_SAID = HoleConditions()
