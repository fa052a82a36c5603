"""How much a log has seen, and so how boldly the next tap may be used to learn from it."""

from __future__ import annotations

import math
from dataclasses import dataclass

FEW = 15.0
"""Failures in the whole log at which about two thirds of what is to be learnt of a shop are learnt: 5 or so for each of
what matters most, how long taps last, how that goes with speed, and whether it is age that breaks them."""

SPARED, IN_A_ROW = 2, 4
"""Taps changed in time without one failure say little at first; after some more, that the age is on the safe side."""


@dataclass(frozen=True)
class Experience:
    """What the log holds.

    Attributes
    ----------
    failures         of all taps
    own_failures     of taps in the condition asked for
    own_survivors    lives there that ended without failure, or have not ended
    """

    failures: float
    own_failures: float = 0.0
    own_survivors: float = 0.0

    @property
    def youth(self) -> float:
        """1 for an empty log, towards 0 with failures: how little is settled."""
        return math.exp(-self.failures / FEW)

    @property
    def reach(self) -> float:
        """How far, in standard deviations of the log of life, to look beyond what is expected: 0 to 1.

        Where one tap after another is changed before it fails, nothing more is learnt of how long they would have
        lasted; a little more at a time is tried then (optimism under uncertainty, as in T. L. Lai & H. Robbins,
        Asymptotically efficient adaptive allocation rules, Adv. Appl. Math. 6 (1985) 4-22). Failures of their own tell
        it: one leaves a quarter of that, three a sixteenth.
        """
        spared = (self.own_survivors - SPARED) / IN_A_ROW
        return min(1.0, max(0.0, spared)) / (1.0 + self.own_failures) ** 2


SETTLED = Experience(math.inf, math.inf)
"""Nothing is to be learnt: the laws are known."""
