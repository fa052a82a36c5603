"""Results of the services in words."""

from __future__ import annotations

from shopfloor.core.lives import Observation
from shopfloor.core.vocabulary import Mode, TapState
from shopfloor.services.board import Board, Verdict
from shopfloor.services.tap_story import PastLife
from shopfloor.web.formats import whole

VERDICT_LOOK = {
    Verdict.CHANGE_NOW: "state-bad",
    Verdict.NEXT_BATCH: "state-warn",
    Verdict.GOOD: "state-good",
    Verdict.RUN_ON: "crib-run-on",
    Verdict.NOT_KNOWN: "state-none",
}
"""The shape and colour that go with each verdict's words."""

STATE_LOOK = {
    TapState.UNUSED: "state-good",
    TapState.IN_SERVICE: "state-good",
    TapState.WORN: "state-warn",
    TapState.CHIPPED: "state-warn",
    TapState.BROKEN: "state-bad",
    TapState.RETIRED_EARLY: "state-none",
    TapState.LOST: "state-none",
}

_VERB = {Mode.BREAK: "broke", Mode.WEAR: "worn"}


def board_line(board: Board) -> str:
    """'3 taps to change now, 5 in their next batch, 12 good for now'; others are named where there are any."""
    counts = board.counts
    now = counts[Verdict.CHANGE_NOW]
    parts = [
        f"{now} {'tap' if now == 1 else 'taps'} to change now",
        f"{counts[Verdict.NEXT_BATCH]} in their next batch",
        f"{counts[Verdict.GOOD]} good for now",
    ]
    others = ((Verdict.RUN_ON, "to run on"), (Verdict.NOT_KNOWN, "not known"))
    return ", ".join([*parts, *(f"{counts[verdict]} {words}" for verdict, words in others if counts[verdict])])


def observed(life: PastLife) -> str:
    """What a life tells the statistics: 'broke at hole 447', 'worn between 300 and 350', 'still good at 260'."""
    if life.entry is None:
        return "cannot be used: nobody knows how many holes were on it"
    if life.observation is None:
        return "no hole yet"
    seen = f", followed from hole {whole(life.observation.entry)} on" if life.observation.entry else ""
    return _ended(life.observation, life.state) + seen


def _ended(seen: Observation, state: TapState) -> str:
    if seen.mode is None or seen.upper is None:
        why = {TapState.RETIRED_EARLY: "changed in time, ", TapState.LOST: "lost, "}.get(state, "")
        return f"{why}still good at {whole(seen.lower)}"
    verb = "chipped" if state is TapState.CHIPPED else _VERB[seen.mode]
    if seen.lower == seen.upper:
        return f"{verb} at hole {whole(seen.upper)}"
    return f"{verb} between {whole(seen.lower)} and {whole(seen.upper)}"
