"""Lives, chances and counts in words."""

from __future__ import annotations

import pytest

from shopfloor.core.intervals import Estimate
from shopfloor.core.lives import Observation
from shopfloor.core.vocabulary import Mode, TapState
from shopfloor.services.tap_story import PastLife
from shopfloor.web.crib.words import observed, risk_range, risk_words


def life(observation: Observation | None, state: TapState = TapState.IN_SERVICE, entry: int | None = 0) -> PastLife:
    """A life that told this."""
    return PastLife(0, entry, 500, 0, 5, state, None, None, observation)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (life(Observation(0, 447, 447, Mode.BREAK), TapState.BROKEN), "broke at hole 447"),
        (life(Observation(0, 410, 460, Mode.BREAK), TapState.BROKEN), "broke between 410 and 460"),
        (life(Observation(0, 300, 350, Mode.WEAR), TapState.WORN), "worn between 300 and 350"),
        (life(Observation(0, 300, 350, Mode.WEAR), TapState.CHIPPED), "chipped between 300 and 350"),
        (life(Observation(0, 260, None, None)), "still good at 260"),
        (life(Observation(0, 400, None, None), TapState.RETIRED_EARLY), "changed in time, still good at 400"),
        (life(Observation(0, 400, None, None), TapState.LOST), "lost, still good at 400"),
        (
            life(Observation(150, 1380, 1380, Mode.BREAK), TapState.BROKEN, 150),
            "broke at hole 1,380, followed from hole 150 on",
        ),
        (life(None, entry=None), "cannot be used: nobody knows how many holes were on it"),
        (life(None, TapState.UNUSED), "no hole yet"),
    ],
)
def test_a_life_says_what_it_tells(told: PastLife, words: str) -> None:
    """Exact, interval, censored, truncated, unusable: each in plain words."""
    assert words == observed(told)


@pytest.mark.parametrize(
    ("risk", "words", "interval"),
    [
        (Estimate(0.083, 0.022, 0.17, 0.9), "1 in 12", "1 in 45 to 1 in 6"),
        (Estimate(None, 0.0, 0.02, 0.9), "at most 1 in 50", ""),
        (Estimate(0.8, 0.6, 0.9, 0.9), "more likely than not", ""),
        (None, "not known", ""),
    ],
)
def test_a_chance_is_said_as_people_say_it(risk: Estimate | None, words: str, interval: str) -> None:
    """With its interval, or with its bound alone."""
    assert (words, interval) == (risk_words(risk), risk_range(risk))
