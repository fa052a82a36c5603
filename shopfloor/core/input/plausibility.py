"""Which typed numbers are asked back before they are saved, and what is usual on a job.

A finger in a glove types 1812 for 18. Such a number is never refused: it is asked back, and one touch confirms it. The
tablet asks by the same rule offline (`static/js/station/batch_rules.js`); `tests/numbers_doubted.py` holds both to it.
The limits are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from statistics import median_low

from shopfloor.core.phrases import Phrase, joined, phrase, phrase_of
from shopfloor.core.vocabulary import Confirmed

MANY_TIMES = 3
"""More holes than so many usual batches are asked back."""

HOLES_A_SLIP = 2
"""More cutting slips than one in so many holes are asked back."""

SPEED_TIMES = 2
"""A speed over so many times the last, or under that part of it, is asked back."""

FEW_TAPS = 12
"""So few taps are never asked back: a box that is counted as four where one is booked is no slip of a finger."""

LAST = 5
"""Batches, or runs, by which the usual is judged."""

MEANT = 3
"""So many of the last that were confirmed are no slips of a finger: they are what is usual now."""


@dataclass(frozen=True)
class Usual:
    """What is usual where a batch is typed. None: not known.

    Attributes
    ----------
    batch    holes of a usual batch of the job
    left     holes that the job still wants: planned less made; below 0 once more was made than planned
    rpm      speed of the job's last run at the station
    """

    batch: int | None = None
    left: int | None = None
    rpm: int | None = None


class Odd(Enum):
    """What is odd about a number."""

    MANY_HOLES = "many holes"
    BEYOND_JOB = "beyond the job"
    MANY_SLIPS = "many slips"
    SPEED = "speed"
    MANY_TAPS = "many taps"
    BEYOND_LEDGER = "beyond the ledger"


@dataclass(frozen=True)
class Doubt:
    """A number that is asked back: whose it is, what was typed, what is odd, and the number that it is held to."""

    field: str
    entered: int
    odd: Odd
    usual: int

    @property
    def question(self) -> Phrase:
        """The number with what would be usual: '1,812? Usual on this job: 18'."""
        return phrase(_QUESTIONS[self.odd].pattern, entered=self.entered, usual=self.usual)

    @property
    def answer(self) -> Phrase:
        """The number as a person confirms it: '1,812 holes'."""
        return _ANSWERS[self.field](self.entered)

    @property
    def mark(self) -> str:
        """The field with its number, by which a form says what was confirmed: 'holes=1812'."""
        return f"{self.field}={self.entered}"


_QUESTIONS = {
    Odd.MANY_HOLES: phrase("{entered}? Usual on this job: {usual}"),
    Odd.BEYOND_JOB: phrase("{entered}? Left to make on this job: {usual}"),
    Odd.MANY_SLIPS: phrase("{entered} on {usual} holes? That is more than one in two"),
    Odd.SPEED: phrase("{entered}? Last time: {usual}"),
    Odd.MANY_TAPS: phrase("{entered}? Last delivery: {usual}"),
    Odd.BEYOND_LEDGER: phrase("{entered}? In the crib by the ledger: {usual}"),
}
_ANSWERS: dict[str, Callable[[int], Phrase]] = {
    Confirmed.HOLES.value: lambda n: phrase_of(n, "{n} hole", "{n} holes", n=n),
    Confirmed.SLIPS.value: lambda n: phrase_of(n, "{n} cutting slip", "{n} cutting slips", n=n),
    Confirmed.SPEED.value: lambda n: phrase("{n} rpm", n=n),
    "number": lambda n: phrase_of(n, "{n} tap", "{n} taps", n=n),
}


class Doubtful(Exception):
    """Numbers that a person has to confirm first; nothing is stored."""

    def __init__(self, doubts: Sequence[Doubt]) -> None:
        self.doubts = tuple(doubts)
        super().__init__("; ".join(doubt.question for doubt in doubts))


@dataclass(frozen=True)
class Typed:
    """The numbers of a batch as they were typed; None: not given, or counted one by one.

    `made` are the holes of its tap, `offered` those that the page itself offered: they are no slip.
    """

    holes: int
    made: int
    cutting_slips: int | None
    rpm: int
    offered: int | None = None


def doubts_of(typed: Typed, usual: Usual) -> tuple[Doubt, ...]:
    """The numbers of a batch that are asked back, at most one question a field."""
    found = (_holes(typed, usual), _slips(typed), _speed(typed.rpm, usual.rpm))
    return tuple(doubt for doubt in found if doubt is not None)


def doubt_of_taps(number: int, usual: int | None, odd: Odd) -> tuple[Doubt, ...]:
    """A number of taps, held to the last delivery or to the ledger; where neither has any, nothing is usual."""
    if usual is None or usual <= 0 or number <= max(MANY_TIMES * usual, FEW_TAPS):
        return ()
    return (Doubt("number", number, odd, usual),)


def ask_back(doubts: Iterable[Doubt], sure: str) -> tuple[Confirmed, ...]:
    """What `sure` (marks with blanks between) confirms.

    Raises
    ------
    Doubtful    a number in doubt was not confirmed; it carries them all
    """
    found = tuple(doubts)
    if not {doubt.mark for doubt in found} <= set(sure.split()):
        raise Doubtful(found)
    return tuple(word for word in Confirmed if word.value in {doubt.field for doubt in found})


def all_answers(doubts: Sequence[Doubt]) -> Phrase:
    """What the touch that confirms them says: 'Yes, 1,812 holes'."""
    return phrase("Yes, {all}", all=joined(doubt.answer for doubt in doubts))


@dataclass(frozen=True)
class Past:
    """A number that was saved, and whether somebody had to confirm it."""

    number: int
    is_confirmed: bool


def ordinary(past: Sequence[Past]) -> tuple[int, ...]:
    """The last numbers, newest first, without those that were confirmed, unless most of them were."""
    last = past[:LAST]
    are_meant = sum(one.is_confirmed for one in last) >= MEANT
    return tuple(one.number for one in last if are_meant or not one.is_confirmed)


def usual_batch(past: Sequence[Past]) -> int | None:
    """The middle one of the last batches, newest first; of two the smaller."""
    found = ordinary(past)
    return median_low(found) if found else None


def last_batch(past: Sequence[Past]) -> int | None:
    """The last batch that would not be asked back, to be offered as the next."""
    usual = usual_batch(past)
    return next((one for one in ordinary(past) if usual is not None and one <= MANY_TIMES * usual), None)


def _holes(typed: Typed, usual: Usual) -> Doubt | None:
    if usual.batch is not None and typed.holes > MANY_TIMES * usual.batch and typed.holes != typed.offered:
        return Doubt(Confirmed.HOLES.value, typed.holes, Odd.MANY_HOLES, usual.batch)
    # Once more was made than planned, somebody has said that the job goes on.
    if usual.left is not None and 0 <= usual.left < typed.holes:
        return Doubt(Confirmed.HOLES.value, typed.holes, Odd.BEYOND_JOB, usual.left)
    return None


def _slips(typed: Typed) -> Doubt | None:
    if typed.cutting_slips is None or HOLES_A_SLIP * typed.cutting_slips <= typed.made:
        return None
    return Doubt(Confirmed.SLIPS.value, typed.cutting_slips, Odd.MANY_SLIPS, typed.made)


def _speed(rpm: int, last: int | None) -> Doubt | None:
    if last is None or last <= SPEED_TIMES * rpm <= SPEED_TIMES**2 * last:
        return None
    return Doubt(Confirmed.SPEED.value, rpm, Odd.SPEED, last)
