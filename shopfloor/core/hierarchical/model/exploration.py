"""Exploration: how much the log has taught so far, and how far the next tap may be used to learn more.

Until some dozen failures are in the log, an age is judged by what the next tap loses rather than by what it would lose
if kept, so the first taps are changed early; where tap after tap was changed in time, the next may go further. From an
empty log, over 25 taps a group, that halved the loss of an age that is kept (`tests/bench/regret_policy.py`,
closed loop).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

FEW = 15.0
"""Failures in the whole log at which about two thirds of what can be learnt about a shop is known: about 5 for each of
the main questions, which are how long taps last, how life depends on speed, and whether age breaks them."""

SPARED, IN_A_ROW = 2, 4
"""Taps changed in time without one failure say little at first; after some more, that the age is on the safe side."""


@dataclass(frozen=True)
class Experience:
    """What the log holds.

    Attributes
    ----------
    failures         of all taps
    own_failures     of taps in the condition asked about
    own_survivors    lives there that ended without failure or are still running
    """

    failures: float
    own_failures: float = 0.0
    own_survivors: float = 0.0

    @property
    def youth(self) -> float:
        """How little is settled: 1 for an empty log, falling towards 0 with the number of failures."""
        return math.exp(-self.failures / FEW)

    @property
    def optimism(self) -> float:
        """How far above the expected log life to look, in standard deviations, 0 to 1.

        Where tap after tap is changed before it fails, nothing more is learnt about how long they would have lasted; so
        the age is raised a little at a time (optimism under uncertainty). Failures in the condition itself end this:
        one leaves a quarter of it, three a sixteenth.

        References
        ----------
        T. L. Lai & H. Robbins, Asymptotically efficient adaptive allocation rules, Adv. Appl. Math. 6 (1985) 4-22
        """
        spared = (self.own_survivors - SPARED) / IN_A_ROW
        return min(1.0, max(0.0, spared)) / (1.0 + self.own_failures) ** 2


SETTLED = Experience(math.inf, math.inf)
"""Nothing to learn: the life distributions are known."""
