"""Unused taps that could go into a station."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import TapState
from shopfloor.store import Station, Tap, TapLife, TapType
from shopfloor.store.queries.stock import WITHDRAWN

_FRESH_NAMED = 3


@dataclass(frozen=True)
class FreshTap:
    """An unused tap: already at the station, or in the crib, in `bin` if that is known."""

    code: str
    tap_type: str
    is_here: bool
    bin: str | None


def fresh_taps(session: Session, kinds: Sequence[int], place: Station, most: int = _FRESH_NAMED) -> list[FreshTap]:
    """Unused taps of these types at this station or in the crib, by code."""
    query = (
        select(Tap.code, TapType.code, TapLife.station_id == place.id, TapType.bin)
        .join(TapLife, TapLife.tap_id == Tap.id)
        .join(TapType, TapType.id == Tap.tap_type_id)
        .where(TapLife.is_present, TapLife.state == TapState.UNUSED, Tap.tap_type_id.in_(kinds), ~WITHDRAWN)
        .where(TapLife.first_entry == 0, or_(TapLife.station_id.is_(None), TapLife.station_id == place.id))
        .order_by(TapLife.station_id.is_(None), Tap.code)
        .limit(most)
    )
    return [FreshTap(code, kind, bool(is_here), bin_) for code, kind, is_here, bin_ in session.execute(query)]
