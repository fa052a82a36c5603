"""Which batches each station taps, when: campaigns on one job, day after day, over the whole log."""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

from seed.clock import SHIFT_SECONDS
from seed.jobs import PLACES_BY_STATION, JobPlan, Place
from seed.shop import AIR, ALUMINIUM, ARM_1, ARM_2, BRASS, CENTRE, OPERATORS, PRESS, REGULAR_OPERATOR, WRENCH

SECONDS_PER_HOLE = {ARM_1: 18, ARM_2: 18, AIR: 15, PRESS: 14, CENTRE: 8, WRENCH: 75}
_BATCHES_A_DAY = {ARM_1: 2.0, ARM_2: 1.9, AIR: 1.8, PRESS: 1.75, CENTRE: 1.7, WRENCH: 0.12}
_HOLES_A_BATCH = (20, 24, 30, 40, 40, 48, 60, 80)
_HOLES_A_BATCH_SOFT = (30, 48, 60, 80, 80, 100, 120, 150)
_SOFT = (ALUMINIUM, BRASS)
_LONGEST_SHARE_OF_A_SLOT = 0.9
_REGULAR_SHARE = 0.75
_CAMPAIGN_BATCHES = (2, 7)


@dataclass(frozen=True)
class Batch:
    """One stretch of tapping as planned. `start` is a working second."""

    start: int
    station: str
    job: JobPlan
    rpm: int
    holes: int
    person: str


def plan_batches(rng: random.Random, workdays: int) -> dict[str, deque[Batch]]:
    """Every station's batches in order; the last of the first arm ends just when the log does."""
    batches = {station: deque(_of_station(rng, station, workdays)) for station in PLACES_BY_STATION}
    _let_the_last_batch_end_the_log(batches[ARM_1], workdays * SHIFT_SECONDS)
    return batches


def seconds_needed(batch: Batch) -> int:
    """How long the batch takes when no tap has to be changed."""
    return batch.holes * SECONDS_PER_HOLE[batch.station]


def _of_station(rng: random.Random, station: str, workdays: int) -> Iterator[Batch]:
    campaign = _Campaign(rng, station)
    for day in range(workdays):
        many = _count(rng, _BATCHES_A_DAY[station])
        slot = SHIFT_SECONDS // max(many, 1)
        for number in range(many):
            start = day * SHIFT_SECONDS + number * slot + int(rng.random() * 0.3 * slot)
            batch = campaign.next_batch(start, day / workdays)
            if seconds_needed(batch) < slot * _LONGEST_SHARE_OF_A_SLOT * 0.75:
                yield batch


def _count(rng: random.Random, mean: float) -> int:
    """A whole number near `mean`, occasionally one more or less."""
    return max(0, int(mean + rng.random()) + rng.choice((-1, 0, 0, 1)) if mean > 1 else int(rng.random() < mean))


class _Campaign:
    """A station's current job; after some batches another follows."""

    def __init__(self, rng: random.Random, station: str) -> None:
        self._rng, self._station, self._left = rng, station, 0
        self._job: JobPlan
        self._place: Place
        self._person = ""

    def next_batch(self, start: int, share: float) -> Batch:
        if self._left == 0:
            self._change(share)
        self._left -= 1
        return Batch(start, self._station, self._job, self._place.rpm, self._holes(), self._person)

    def _change(self, share: float) -> None:
        options = [option for option in PLACES_BY_STATION[self._station] if option[0].is_active(share)]
        self._job, self._place = self._rng.choices(options, [job.weight for job, _ in options])[0]
        self._left = self._rng.randint(*_CAMPAIGN_BATCHES)
        is_regular = self._rng.random() < _REGULAR_SHARE
        self._person = REGULAR_OPERATOR[self._station] if is_regular else self._rng.choice(OPERATORS)

    def _holes(self) -> int:
        if self._station == WRENCH:
            return self._job.holes_per_part
        wanted = self._rng.choice(_HOLES_A_BATCH_SOFT if self._job.material in _SOFT else _HOLES_A_BATCH)
        return max(1, round(wanted / self._job.holes_per_part)) * self._job.holes_per_part


def _let_the_last_batch_end_the_log(batches: deque[Batch], end: int) -> None:
    last = batches.pop()
    batches.append(Batch(end - seconds_needed(last), last.station, last.job, last.rpm, last.holes, last.person))
