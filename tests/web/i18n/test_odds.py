"""Chances and the bar of a tap: the same on every page."""

from __future__ import annotations

import pytest

from shopfloor.core.hierarchical.prediction.slip_factor import NO_SLIPS, SlipEvidence
from shopfloor.core.survival.estimates import Estimate
from shopfloor.web.drawing.life_bar import life_bar
from shopfloor.web.i18n.formats import chance
from shopfloor.web.i18n.odds import is_high, odds, odds_interval, slips_raise
from tests.chances_told import INTERVALS, TOLD


@pytest.mark.parametrize(
    ("risk", "words", "interval", "needs_spare"),
    [
        (Estimate(0.083, 0.022, 0.17, 0.9), "1 in 12", "1 in 45 to 1 in 6", False),
        (Estimate(0.4, 0.2, 0.45, 0.9), "1 in 2", "1 in 5 to 1 in 2", True),
        (Estimate(None, 0.0, 0.02, 0.9), "at most 1 in 50", "", False),
        (Estimate(None, 0.0, 0.9, 0.9), "not known", "", False),
        (Estimate(0.8, 0.6, 0.9, 0.9), "more likely than not", "above 1 in 2", True),
        (None, "not known", "", False),
    ],
)
def test_a_chance_is_said_as_people_say_it(risk: Estimate | None, words: str, interval: str, needs_spare: bool) -> None:
    """With its interval, or with its bound alone; a bound that says nothing is none."""
    assert (words, interval, needs_spare) == (odds(risk), odds_interval(risk), is_high(risk))


def test_chances_are_told_as_on_a_tablet() -> None:
    """The cases that both are held to."""
    assert TOLD == {value: chance(value) for value in TOLD}
    assert INTERVALS == {ends: odds_interval(Estimate(ends[0], *ends, 0.9)) for ends in INTERVALS}


def test_slips_are_told_where_they_raise_the_chance() -> None:
    """With what that rests on; nothing else is said of them."""
    told = "Its cutting slips raise this about 1.6 times: 7 slips in its last 120 holes, usual is 3.0."
    assert told == slips_raise(SlipEvidence(119.7, 7.2, 3.0, 1.63))
    assert " 1 slip in its last 40 holes, usual is 0.20." in slips_raise(SlipEvidence(40, 1, 0.2, 1.3))
    assert ["", ""] == [slips_raise(one) for one in (NO_SLIPS, SlipEvidence(100, 0, 2, 0.5))]


def test_a_bar_holds_all_that_stands_on_it() -> None:
    """Holes made, holes to come and the change, each as a share of one length."""
    bar = life_bar(300, 100, 200)
    assert bar is not None
    assert "300 holes so far, 100 to come, change suggested at 200" == bar.label
    assert bar.change is not None
    assert bar.change < bar.made < bar.made + bar.coming < 100


def test_there_is_no_bar_of_unknown_holes() -> None:
    """Nobody knows them, so nothing is drawn."""
    assert life_bar(None, 100, 200) is None
