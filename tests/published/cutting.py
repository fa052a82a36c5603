"""Published figures of cutting speed, torque and power, and check values of common practice.

`cutting.json` has the layout of its neighbours. `origin`: a read in a public page, b recomputed from the formula,
c from memory of the publication.
"""

from __future__ import annotations

from shopfloor.core.vocabulary import HoleMaking
from tests.published.life import Case, case


def cutting(name: str) -> Case:
    """One case of cutting.json."""
    return case("cutting", name)


def rows(name: str) -> list[Case]:
    """The expected values of a case, one a row."""
    expected: list[Case] = cutting(name)["expected"]
    return expected


SAME_TORQUE = [("5/8-11", "steel"), ("9/16-12", "stainless"), ("1-8", "aluminium")]
"""Threads of about equal torque: one size of arm taps each of them as its largest. Common practice, no source."""

SAME_TORQUE_WITHIN = 0.25

LARGEST_OF_ONE_ARM = [
    # material, least and most thread that an arm manages which taps 5/8 in machine steel
    ("stainless", "9/16-12", "9/16-12"),
    ("aluminium", "1-8", "1 1/4-7"),
    ("brass", "1-8", "1 1/4-7"),
    ("plastic", "1-8", "1 1/4-7"),
]
"""Common practice, no source."""

GOOD_SET_UPS = [
    # thread, material, rpm, depth mm, made how: work well on a hand-guided electric arm of 25 to 500 rpm
    ("3/8-16", "steel", 500, 9.5, HoleMaking.LASER),
    ("1/2-13", "steel", 250, 17.78, HoleMaking.DRILLED),
]
"""Common practice, no source; the laser-cut hole reamed and chamfered."""

SECONDS_TO_DEPTH = [
    # thread, rpm, depth in, seconds: depth x threads per inch / rpm x 60
    ("1/2-13", 250, 0.7, 2.184),
    ("3/8-16", 500, 0.375, 0.72),
    ("1/4-20", 764, 0.5, 0.7853403),
]
"""Kinematics of a tap; recomputed."""
