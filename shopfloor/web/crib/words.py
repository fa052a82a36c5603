"""Results of the services in words."""

from __future__ import annotations

from shopfloor.core.decision.when_to_change import Action, Decision
from shopfloor.core.floor.tap_lives import Observation
from shopfloor.core.phrases import Phrase, joined, phrase, phrase_of
from shopfloor.core.vocabulary import Mode, TapState
from shopfloor.services.crib.board import Board
from shopfloor.services.crib.tap_history import PastLife
from shopfloor.services.runs.batch_size import Why
from shopfloor.web.i18n.formats import hole_of_end, whole
from shopfloor.web.i18n.language import say

ACTION_LOOK = {
    Action.CHANGE_NOW: "state-bad",
    Action.WITHIN: "state-warn",
    Action.AFTER: "state-warn",
    Action.CARRY_ON: "state-good",
    Action.RUN_ON: "crib-run-on",
    Action.NOT_KNOWN: "state-none",
}
"""The CSS class for each decision."""

WHY_SO_MANY = {
    Why.LAST_TIME: phrase("as last time at this station"),
    Why.LEFT_ON_JOB: phrase("left on the job"),
}
"""Where the holes of the next batch come from."""

STATE_LOOK = {
    TapState.UNUSED: "state-good",
    TapState.IN_SERVICE: "state-good",
    TapState.WORN: "state-warn",
    TapState.CHIPPED: "state-warn",
    TapState.BROKEN: "state-bad",
    TapState.RETIRED_EARLY: "state-none",
    TapState.LOST: "state-none",
}


def standing(state: TapState, is_in_use: object) -> str:
    """A tap's state in a word: only one that is in a station is in service."""
    return say(phrase("Used, still good") if state is TapState.IN_SERVICE and not is_in_use else state.label)


_VERB = {Mode.BREAK: phrase("broke"), Mode.WEAR: phrase("worn")}


def board_line(board: Board) -> str:
    """'3 taps to change now, 5 in their next batch, 12 good for now'; other states only if there are any."""
    counts = board.counts
    now = counts[Action.CHANGE_NOW]
    in_next = sum(number for action, number in counts.items() if action.is_in_next_batch)
    parts = [
        phrase_of(now, "{n} tap to change now", "{n} taps to change now", n=now),
        phrase("{n} in their next batch", n=in_next),
        phrase("{n} good for now", n=counts[Action.CARRY_ON]),
    ]
    if counts[Action.RUN_ON]:
        parts.append(phrase("{n} to run on", n=counts[Action.RUN_ON]))
    if counts[Action.NOT_KNOWN]:
        parts.append(phrase("{n} not known", n=counts[Action.NOT_KNOWN]))
    return say(joined(parts))


def action_number(decision: Decision) -> str:
    """The number that belongs to a decision: the hole of the change, or how many batches are left to it."""
    if decision.after_hole is not None:
        return say(phrase("after its hole {hole}", hole=decision.after_hole))
    if decision.action is Action.CARRY_ON and decision.batches:
        return say(phrase_of(decision.batches, "for {n} batch", "for about {n} batches", n=decision.batches))
    return ""


def observed(life: PastLife) -> str:
    """What a life adds to the statistics: 'broke at hole 447', 'worn at hole 301 to 350', 'still good at 260'."""
    if life.entry is None:
        return say(phrase("cannot be used: nobody knows how many holes were on it"))
    if life.observation is None:
        return say(phrase("no hole yet"))
    ended = _ended(life.observation, life.state)
    if not life.observation.entry:
        return say(ended)
    return say(joined([ended, phrase("followed from hole {hole} on", hole=whole(life.observation.entry))]))


def _ended(seen: Observation, state: TapState) -> Phrase:
    if seen.mode is None or seen.upper is None:
        good = phrase("still good at {hole}", hole=whole(seen.lower))
        why = {TapState.RETIRED_EARLY: phrase("changed in time"), TapState.LOST: phrase("lost")}.get(state)
        return good if why is None else joined([why, good])
    verb = phrase("chipped") if state is TapState.CHIPPED else _VERB[seen.mode]
    return phrase("{verb} at hole {hole}", verb=verb, hole=hole_of_end(seen.lower, seen.upper))
