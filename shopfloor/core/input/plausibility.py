"""Which typed numbers are queried before they are saved, and what is usual on a job.

A gloved finger types 1812 for 18. Such a number is never refused: it is queried, and one touch confirms it. The tablet
applies the same rule offline (`static/js/station/batch_rules.js`); `tests/numbers_doubted.py` checks both. The limits
are common practice, no source. Only entries with a person in front of them are queried: never a file or a program.

A service asks back only if it is passed what is confirmed already (`sure`), and `run.confirmed` names what was. What is
usual comes from the record (`services.runs.usual_sizes`), and the page and the offline lists carry it to the tablet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from statistics import median_low

from shopfloor.core.phrases import Phrase, joined, phrase, phrase_of
from shopfloor.core.vocabulary import Confirmed

MANY_TIMES = 3
"""More holes than this many usual batches are queried."""

HOLES_A_SLIP = 2
"""More cutting slips than one in this many holes are queried."""

SPEED_TIMES = 2
"""A speed more than this many times the last one, or less than this fraction of it, is queried."""

FEW_TAPS = 12
"""This many taps are never queried: counting four where one is booked is no typing mistake."""

LAST = 5
"""Recent batches, or runs, from which the usual is judged."""

MEANT = 3
"""If this many of them were confirmed, they are no typing mistakes but what is usual now."""


@dataclass(frozen=True)
class Usual:
    """What is usual where a batch is typed. None: not known.

    Attributes
    ----------
    batch    holes of a usual batch of the job
    left     holes the job still needs: planned less made; below 0 once more were made than planned
    rpm      speed of the job's last run at the station
    """

    batch: int | None = None
    left: int | None = None
    rpm: int | None = None


class Odd(Enum):
    """What is unusual about a number."""

    MANY_HOLES = "many holes"
    BEYOND_JOB = "beyond the job"
    MANY_SLIPS = "many slips"
    SPEED = "speed"
    MANY_TAPS = "many taps"
    BEYOND_LEDGER = "beyond the ledger"


@dataclass(frozen=True)
class Doubt:
    """A number that is queried.

    Attributes
    ----------
    field      the field it was typed in
    entered    what was typed
    odd        what is unusual about it
    usual      the number it is compared with
    """

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
        """The field with its number, as a form reports what was confirmed: 'holes=1812'."""
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
    """The numbers of a batch as typed. None: not given, or counted one by one.

    Attributes
    ----------
    holes            of the batch
    made             made by its tap
    cutting_slips    in them
    rpm              of the tap
    offered          holes that the page itself suggested: they are no typing mistake
    """

    holes: int
    made: int
    cutting_slips: int | None
    rpm: int
    offered: int | None = None


def doubts_of(typed: Typed, usual: Usual) -> tuple[Doubt, ...]:
    """The queried numbers of a batch, at most one question a field."""
    found = (_holes(typed, usual), _slips(typed), _speed(typed.rpm, usual.rpm))
    return tuple(doubt for doubt in found if doubt is not None)


def doubt_of_taps(number: int, usual: int | None, odd: Odd) -> tuple[Doubt, ...]:
    """A number of taps, compared with the last delivery or the ledger; without either, nothing is queried.

    Parameters
    ----------
    number    of taps, as typed
    usual     the last delivery or the balance of the ledger; None: not known
    odd       which of the two it is
    """
    if usual is None or usual <= 0 or number <= max(MANY_TIMES * usual, FEW_TAPS):
        return ()
    return (Doubt("number", number, odd, usual),)


def ask_back(doubts: Iterable[Doubt], sure: str) -> tuple[Confirmed, ...]:
    """What `sure` (marks with blanks between) confirms.

    Raises
    ------
    Doubtful    a queried number was not confirmed; it carries them all
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
    """A saved number, and whether somebody had to confirm it."""

    number: int
    is_confirmed: bool


def ordinary(past: Sequence[Past]) -> tuple[int, ...]:
    """The last numbers, newest first, without those that were confirmed, unless most were."""
    last = past[:LAST]
    are_meant = sum(one.is_confirmed for one in last) >= MEANT
    return tuple(one.number for one in last if are_meant or not one.is_confirmed)


def usual_batch(past: Sequence[Past]) -> int | None:
    """The median of the last batches, given newest first; of an even number the lower."""
    found = ordinary(past)
    return median_low(found) if found else None


def last_batch(past: Sequence[Past]) -> int | None:
    """The last batch that would not be queried, to be offered as the next."""
    usual = usual_batch(past)
    return next((one for one in ordinary(past) if usual is not None and one <= MANY_TIMES * usual), None)


def _holes(typed: Typed, usual: Usual) -> Doubt | None:
    if usual.batch is not None and typed.holes > MANY_TIMES * usual.batch and typed.holes != typed.offered:
        return Doubt(Confirmed.HOLES.value, typed.holes, Odd.MANY_HOLES, usual.batch)
    # Once more were made than planned, somebody has confirmed that the job goes on.
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
