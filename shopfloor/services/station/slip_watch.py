"""Are the cutting slips of the tap in the station rising, compared with its peers and its own past?"""

from __future__ import annotations

from functools import partial
from typing import Any

from sqlalchemy import Select, func, or_, select
from sqlalchemy.orm import Session

from shopfloor.core.floor.slip_cusum import Batch, SlipWatch, watch
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import DepthControl
from shopfloor.store import Run, Tap, TapLife
from shopfloor.store.queries.log import counts, cutting_conditions

LOOK_FIRST = (
    phrase("dull tap"),
    phrase("packed chips"),
    phrase("small hole"),
    phrase("hard spot"),
    phrase("lubricant"),
    phrase("clutch set too loose"),
)
"""What makes a tap slip before reaching depth, in the order to check. Common practice, no source."""


def slip_watch(session: Session, tap: Tap, life: TapLife, material: int, rpm: int | None) -> SlipWatch | None:
    """State of the test of this tap's slips in this material at this speed; None if too little is known.

    If the clutch ends each hole at the bottom, it slips once a hole, which says nothing. Such slips may have been
    entered as cutting slips by mistake, so runs with such depth control are left out, for the tap and its peers.
    """
    if rpm is None or life.first_at is None:
        return None
    in_band = partial(cutting_conditions, tap.tap_type_id, tap.tap_type.thread, material)
    here = in_band(rpm)
    alike = _runs(tap.tap_type_id, material)
    holes = slips = 0
    sums = func.sum(Run.holes_made), func.sum(Run.cutting_slips)
    for at_rpm, made, slipped in session.execute(
        alike.add_columns(Run.rpm, *sums).where(Run.tap_id != tap.id).group_by(Run.rpm)
    ):
        if in_band(at_rpm) == here:
            holes, slips = holes + int(made), slips + int(slipped)
    in_order = alike.add_columns(Run.rpm, Run.holes_made, Run.cutting_slips).order_by(Run.ended_at, Run.position)
    runs = session.execute(in_order.where(Run.tap_id == tap.id, Run.ended_at >= life.first_at))
    own = [Batch(made, slipped) for at_rpm, made, slipped in runs if in_band(at_rpm) == here]
    return watch(own, Batch(holes, slips))


def _runs(tap_type: int, material: int) -> Select[Any]:
    """Runs of such taps in the material that recorded cutting slips; the caller adds columns."""
    return (
        select()
        .select_from(Run)
        .join(Tap, Tap.id == Run.tap_id)
        .where(Tap.tap_type_id == tap_type, Run.material_id == material, Run.cutting_slips.is_not(None), counts(Run))
        .where(or_(Run.depth_control.is_(None), Run.depth_control != DepthControl.CLUTCH))
    )
