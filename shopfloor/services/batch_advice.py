"""What to do about the tap in a station before its batch, as plain values that a tablet can keep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from shopfloor.core.pool.moments import Deed
from shopfloor.core.pool.slip_evidence import SlipEvidence
from shopfloor.core.vocabulary import TapState
from shopfloor.services.outlook import Outlook
from shopfloor.store import Station, Tap, TapLife, TapType
from shopfloor.store.queries.stock import WITHDRAWN

_FRESH_NAMED = 3


@dataclass(frozen=True)
class FreshTap:
    """A tap that made no hole yet: in the station already, or in the crib, in `bin` where that is known."""

    code: str
    tap_type: str
    is_here: bool
    bin: str | None


@dataclass(frozen=True)
class BatchAdvice:
    """What to do about one tap in a batch of one job: text, numbers and nothing, so that it is JSON as it stands.

    Attributes
    ----------
    holes               of the batch
    made                holes on the tap, None where nobody knows
    change_at           holes at which it is best changed; None where nothing is gained by changing in time
    made_m, change_at_m the same in m of thread, where the shop counts lives so
    deed                'carry on', 'change within' or 'fresh now'; None where the log cannot tell
    after_hole          holes of this batch after which to change, where the deed is to change within it
    batches             such batches that the tap should still make, this one included; None where it need not be said
    risk, risk_lower, risk_upper, level
                        chance that it breaks in this batch, and its interval
    usual_risk          the same on the mean over taps that are used as suggested
    slips               cutting slips of its last holes, where they raise the risk so far that it should be told
    fresh               fresh taps to take, those that are here first
    """

    tap: str
    tap_type: str
    job: str
    holes: int
    made: int | None
    change_at: int | None
    made_m: float | None
    change_at_m: float | None
    deed: Deed | None
    after_hole: int | None
    batches: int | None
    risk: float | None
    risk_lower: float | None
    risk_upper: float | None
    level: float | None
    usual_risk: float | None
    slips: SlipEvidence | None
    fresh: tuple[FreshTap, ...]


def batch_advice(tap: Tap, job: str, made: int | None, outlook: Outlook, fresh: Sequence[FreshTap]) -> BatchAdvice:
    """The advice that an outlook holds, with the fresh taps that could go in."""
    risk, moment = outlook.risk, outlook.moment
    value, lower, upper, level = (None,) * 4 if risk is None else (risk.value, risk.lower, risk.upper, risk.level)
    deed, after, batches = (None,) * 3 if moment is None else (moment.deed, moment.after_hole, moment.batches)
    length = outlook.length
    made_m, change_at_m = (None, None) if length is None else (length.made_m, length.change_at_m)
    return BatchAdvice(
        tap=tap.code,
        tap_type=tap.tap_type.code,
        job=job,
        holes=outlook.next_holes,
        made=made,
        change_at=outlook.change_at,
        made_m=made_m,
        change_at_m=change_at_m,
        deed=deed,
        after_hole=after,
        batches=batches,
        risk=value,
        risk_lower=lower,
        risk_upper=upper,
        level=level,
        usual_risk=outlook.usual_risk,
        slips=outlook.slips if outlook.slips.raises else None,
        fresh=tuple(fresh),
    )


def fresh_taps(session: Session, kinds: Sequence[int], place: Station, most: int = _FRESH_NAMED) -> list[FreshTap]:
    """Taps of these types that made no hole yet, in this station or in the crib, by code."""
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
