"""Are the cutting slips of the tap in the station rising, compared with its peers and its own past?"""

from __future__ import annotations

from datetime import datetime
from functools import partial

from sqlalchemy import Select, or_, select
from sqlalchemy.orm import Session

from shopfloor.core.floor.slip_cusum import Batch, SlipWatch, watch
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import DepthControl
from shopfloor.store import Run, Tap, TapLife
from shopfloor.store.queries.log import counts, cutting_conditions
from shopfloor.store.queries.output import judged_slips

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
    total = [made for at, made in judged_slips(session, tap.tap_type_id, material).items() if in_band(at) == here]
    own = [run for run in session.execute(_runs(tap, material)) if in_band(run.rpm) == here]
    holes = sum(holes for holes, _ in total) - sum(run.holes for run in own)
    slips = sum(slips for _, slips in total) - sum(run.cutting_slips for run in own)
    batches = [Batch(run.holes, run.cutting_slips) for run in own if run.ended_at >= life.first_at]
    return watch(batches, Batch(holes, slips))


def _runs(tap: Tap, material: int) -> Select[int, int, int | None, datetime]:
    """The tap's runs in the material by which it is judged, the oldest first."""
    return (
        select(Run.rpm, Run.holes_made.label("holes"), Run.cutting_slips, Run.ended_at)
        .where(Run.tap_id == tap.id, Run.material_id == material, Run.cutting_slips.is_not(None), counts(Run))
        .where(or_(Run.depth_control.is_(None), Run.depth_control != DepthControl.CLUTCH))
        .order_by(Run.ended_at, Run.position)
    )
