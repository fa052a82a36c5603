"""Why a tap broke, as far as the shop can tell, and how an operator reports it."""

from __future__ import annotations

import random

from seed.life import Setting, TapInHand
from seed.truth import Truth
from shopfloor.core.vocabulary import Cause, DepthControl, HoleMaking, Lubricant, PartFate, TapEnd

_ACCOUNTS: dict[Cause, tuple[str, ...]] = {
    Cause.BOTTOMED: (
        "Ran on after the bottom was reached, the clutch let go too late.",
        "Hole was shallower than the others, hit the bottom hard.",
    ),
    Cause.CHIPS_PACKED: (
        "Flutes were full of chips when it stopped.",
        "Long chips, did not clear them between the holes.",
    ),
    Cause.OUT_OF_LINE: (
        "Came in at an angle, the part had moved in the fixture.",
        "Head does not stand square to the bench, could see it bend.",
        "Went in crooked from the first turn.",
    ),
    Cause.HOLE_SMALL_OR_HARD: (
        "Hard edge from the laser, it squealed at the start of the hole.",
        "Hole felt tight from the first thread.",
    ),
    Cause.LUBRICANT: ("Forgot to oil.", "Oil pot was empty, noticed it too late."),
    Cause.WRONG_STYLE: ("Wrong tap for this depth.",),
    Cause.TOO_FAST: ("Speed was left on the setting of the job before.",),
    Cause.CLUTCH_TIGHT: ("Clutch was still set for the bigger size.",),
    Cause.WORN_OUT: (
        "Had been slipping more and more, should have changed it.",
        "Torque went up over the last parts, then it broke.",
        "Old tap, cut heavily already this morning.",
    ),
    Cause.NOT_KNOWN: ("Broke without warning.", "Nothing unusual before.", ""),
}
_NOTES: dict[TapEnd, tuple[str, ...]] = {
    TapEnd.STILL_GOOD: (
        "new fixture works well",
        "chips wiped off after each part",
        "second shift helped",
        "part 3 gauged",
    ),
    TapEnd.WORN: ("threads rough", "gauge hard to turn", "thread torn at the start"),
    TapEnd.CHIPPED: ("one cutting edge chipped", "chamfer chipped, seen when cleaning"),
    TapEnd.BROKEN: ("tap got out with pliers", "broken piece still in the part", ""),
    TapEnd.RETIRED_EARLY: ("changed in time", "did not want to risk the part"),
}
_NOTE_SHARE = {TapEnd.STILL_GOOD: 0.015}
_NOTE_SHARE_AT_END = 0.4
_WORN_SHARE = 0.75
_STORY_IS_CLEAR = 0.7
_WORN_FATES = {PartFate.GOOD: 0.6, PartFate.REWORKED: 0.4}
_PART_FATES = {
    TapEnd.BROKEN: {PartFate.GOOD: 0.1, PartFate.REWORKED: 0.55, PartFate.SCRAPPED: 0.35},
    TapEnd.WORN: _WORN_FATES,
    TapEnd.CHIPPED: _WORN_FATES,
}
_OTHER_CAUSES = {
    Cause.NOT_KNOWN: 5,
    Cause.CHIPS_PACKED: 4,
    Cause.BOTTOMED: 2,
    Cause.CLUTCH_TIGHT: 2,
    Cause.OUT_OF_LINE: 2,
    Cause.TOO_FAST: 1,
    Cause.HOLE_SMALL_OR_HARD: 2,
}


def likely_cause(rng: random.Random, truth: Truth, tap: TapInHand, setting: Setting) -> Cause:
    """What the operator blames for the break: mostly the actual circumstance, otherwise whatever comes to mind."""
    plausible = list(_plausible(truth, tap, setting))
    if plausible and rng.random() < _STORY_IS_CLEAR:
        return rng.choice(plausible)
    return rng.choices(list(_OTHER_CAUSES), list(_OTHER_CAUSES.values()))[0]


def account(rng: random.Random, cause: Cause) -> str:
    """The report in the operator's words."""
    return rng.choice(_ACCOUNTS[cause])


def note(rng: random.Random, tap_end: TapEnd) -> str:
    """A remark in the log, mostly none."""
    share = _NOTE_SHARE.get(tap_end, _NOTE_SHARE_AT_END)
    return rng.choice(_NOTES[tap_end]) if rng.random() < share else ""


def part_fate(rng: random.Random, tap_end: TapEnd) -> PartFate | None:
    """What became of the part that the tap failed in; None where it did not fail."""
    fates = _PART_FATES.get(tap_end)
    return rng.choices(list(fates), list(fates.values()))[0] if fates else None


def _plausible(truth: Truth, tap: TapInHand, setting: Setting) -> list[Cause]:
    hidden, job = tap.hidden, setting.job
    signs = {
        Cause.OUT_OF_LINE: setting.station == truth.misaligned_station,
        Cause.HOLE_SMALL_OR_HARD: job.hole_making is HoleMaking.LASER,
        Cause.LUBRICANT: setting.lubricant is Lubricant.NONE and job.lubricant is not Lubricant.NONE,
        Cause.BOTTOMED: job.is_blind and job.depth_control is DepthControl.CLUTCH,
        Cause.CHIPS_PACKED: job.is_blind,
        Cause.WORN_OUT: hidden.warns and hidden.wear_used > _WORN_SHARE * hidden.wear_limit,
    }
    return [cause for cause, is_there in signs.items() if is_there]
