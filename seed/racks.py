"""The taps that each station keeps at hand: one for each thread, style, material and speed that it runs."""

from __future__ import annotations

import random

from seed.clock import SHIFT_SECONDS
from seed.life import Setting, TapInHand, draw_life, draw_used_life, true_life
from seed.schedule import Batch
from seed.shop import STATIONS, TAP_TYPE
from seed.stock import Crib
from seed.truth import Truth

_HOLDS = 6
_UNUSED_WORKDAYS = 35
_MOVES_TO_OTHER_MATERIAL, _MOVES_AFTER_WORKDAYS = 0.12, 6
_ADOPTS_EARLY, _EARLY_SHARE, _ADOPTS_LATER = 0.35, 0.05, 0.008
_PAST_UNKNOWN, _PAST_SHARE_OF_LIFE = 0.4, (0.1, 0.6)

Slot = tuple[tuple[str, ...], str, int]


class Racks:
    """Finds a tap for a batch: the one at hand, one kept for other work, a stray used one, or one from the crib."""

    def __init__(self, rng: random.Random, truth: Truth, crib: Crib, end_second: int) -> None:
        self._rng, self._truth, self._crib = rng, truth, crib
        self._early_until = _EARLY_SHARE * end_second
        self._racks: dict[str, dict[Slot, TapInHand]] = {station.code: {} for station in STATIONS}

    def tap_for(self, batch: Batch, second: int) -> TapInHand:
        """The tap that the batch is run with."""
        rack, slot = self._racks[batch.station], _slot(batch)
        self._tidy(batch, second)
        if slot not in rack:
            rack[slot] = self._moved(batch, second) or self._adopted(batch, second) or self._issued(batch, second)
        return rack[slot]

    def take_out(self, batch: Batch) -> None:
        """Remove the batch's tap from the station's rack."""
        del self._racks[batch.station][_slot(batch)]

    def _issued(self, batch: Batch, second: int) -> TapInHand:
        work = (batch.job.material, batch.rpm)
        return self._crib.issue(batch.job.tap_types, work, batch.station, batch.person, second)

    def _moved(self, batch: Batch, second: int) -> TapInHand | None:
        """A tap of the same kind that the station keeps for another material or speed and has not used lately."""
        rack = self._racks[batch.station]
        for slot, tap in rack.items():
            has_rested = second - tap.last_used > _MOVES_AFTER_WORKDAYS * SHIFT_SECONDS
            if slot[0] == batch.job.tap_types and has_rested and self._rng.random() < _MOVES_TO_OTHER_MATERIAL:
                return rack.pop(slot)
        return None

    def _adopted(self, batch: Batch, second: int) -> TapInHand | None:
        """A used tap that was there before the log began, or turns up from a drawer."""
        if self._rng.random() >= (_ADOPTS_EARLY if second < self._early_until else _ADOPTS_LATER):
            return None
        kind = TAP_TYPE[self._rng.choice(batch.job.tap_types)]
        tap = TapInHand(self._crib.next_code(), kind, None, 0, draw_life(self._rng, self._truth, kind))
        life = true_life(self._truth, tap, Setting(batch.station, batch.job, batch.rpm, batch.job.lubricant))
        tap.holes = max(10, round(self._rng.uniform(*_PAST_SHARE_OF_LIFE) * life.wear.scale / 10) * 10)
        tap.hidden = draw_used_life(self._rng, self._truth, kind, life, tap.holes)
        is_unknown = self._rng.random() < _PAST_UNKNOWN
        self._crib.adopt(tap, batch.station, batch.person, second, None if is_unknown else tap.holes)
        return tap

    def _tidy(self, batch: Batch, second: int) -> None:
        """Return taps that the station has not used for long or has no room for."""
        rack = self._racks[batch.station]
        by_age = sorted(rack, key=lambda slot: rack[slot].last_used)
        for position, slot in enumerate(by_age):
            is_old = second - rack[slot].last_used > _UNUSED_WORKDAYS * SHIFT_SECONDS
            is_crowded = len(by_age) - position > _HOLDS
            if slot != _slot(batch) and (is_old or is_crowded):
                self._crib.take_back(rack.pop(slot), batch.station, batch.person, second)


def _slot(batch: Batch) -> Slot:
    return batch.job.tap_types, batch.job.material, batch.rpm
