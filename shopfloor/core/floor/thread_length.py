"""From holes to length of thread, along the life of a tap whose holes differ in depth."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Mapping


def middle_depth(holes: Mapping[float, float]) -> float:
    """The median depth: half of the holes are no deeper.

    Parameters
    ----------
    holes    number of holes of each depth in mm; at least one depth
    """
    half, reached = sum(holes.values()) / 2, 0.0
    for depth in sorted(holes):
        reached += holes[depth]
        if reached >= half:
            return depth
    raise AssertionError("some hole has a depth")


class ThreadCut:
    """How much thread a tap had cut at each of its holes."""

    def __init__(self, stretches: Iterable[tuple[float, float, float]], usual: float) -> None:
        """From the stretches of its life, in order.

        Parameters
        ----------
        stretches    first hole, last hole and length of thread of one hole
        usual        that length for holes between the stretches, and before the first
        """
        self._holes, self._length = [0.0], [0.0]
        for start, end, each in stretches:
            for until, of_one in ((start, usual), (end, each)):
                self._length.append(self._length[-1] + of_one * (until - self._holes[-1]))
                self._holes.append(until)

    def at(self, age: float) -> float:
        """Length when the tap had made `age` holes."""
        holes, length = self._holes, self._length
        place = min(max(bisect_left(holes, age), 1), len(holes) - 1)
        before, after = holes[place - 1], holes[place]
        share = (age - before) / (after - before) if after > before else 1.0
        return length[place - 1] + share * (length[place] - length[place - 1])
