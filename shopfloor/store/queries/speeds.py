"""What the log holds for each speed band in which a tap type worked."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session

from shopfloor.core.vocabulary import Mode
from shopfloor.store import LifeStretch, Tap


@dataclass(frozen=True)
class BandTally:
    """Holes, breaks and worn taps of one speed band, by the band's label."""

    band: str
    holes: int
    breaks: int
    worn: int


def band_tallies(session: Session, tap_types: Collection[int], material: int) -> list[BandTally]:
    """Tallies of some tap types together in one material, by band."""
    worn = func.sum(case((LifeStretch.mode == Mode.WEAR, 1), else_=0))
    holes = func.sum(LifeStretch.end - LifeStretch.start)
    query = (
        select(LifeStretch.speed_band, holes, func.sum(LifeStretch.breaks), worn)
        .join(Tap, Tap.id == LifeStretch.tap_id)
        .where(Tap.tap_type_id.in_(tap_types), LifeStretch.material_id == material)
        .group_by(LifeStretch.speed_band)
        .order_by(LifeStretch.speed_band)
    )
    return [BandTally(*row) for row in session.execute(query)]
