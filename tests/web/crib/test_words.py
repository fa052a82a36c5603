"""Lives in words."""

from __future__ import annotations

import pytest

from shopfloor.core.floor.tap_lives import Observation
from shopfloor.core.vocabulary import Mode, TapState
from shopfloor.services.crib.tap_history import PastLife
from shopfloor.web.crib.words import observed
from shopfloor.web.quality.sentences import holes_at_break


def life(observation: Observation | None, state: TapState = TapState.IN_SERVICE, entry: int | None = 0) -> PastLife:
    """A life that told this."""
    return PastLife(0, entry, 500, 0, 5, state, None, None, observation)


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (life(Observation(0, 447, 447, Mode.BREAK), TapState.BROKEN), "broke at hole 447"),
        (life(Observation(0, 410, 460, Mode.BREAK), TapState.BROKEN), "broke at hole 411 to 460"),
        (life(Observation(0, 300, 350, Mode.WEAR), TapState.WORN), "worn at hole 301 to 350"),
        (life(Observation(0, 300, 350, Mode.WEAR), TapState.CHIPPED), "chipped at hole 301 to 350"),
        (life(Observation(0, 446, 447, Mode.BREAK), TapState.BROKEN), "broke at hole 447"),
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


@pytest.mark.parametrize(("lower", "upper"), [(447, 447), (446, 447), (151, 160), (0, 40)])
def test_every_page_names_the_same_holes_for_a_break(lower: int, upper: int) -> None:
    """The tap's page and the list of incidents tell one break alike."""
    on_the_tap = observed(life(Observation(0, lower, upper, Mode.BREAK), TapState.BROKEN))
    assert f"broke at hole {holes_at_break(lower, upper, upper)}" == on_the_tap
