"""The forms of the operator's pages."""

from __future__ import annotations

from wtforms import BooleanField, Form

from shopfloor.core.vocabulary import Cause, DepthControl, Lubricant, PartFate, TapEnd
from shopfloor.web.fields import TO_CHOOSE, CodeField, CountField, HiddenField, NoteField, PickField, WordField


class BatchFields(Form):
    """What a batch holds, whether it is logged or corrected."""

    id = HiddenField()
    device_time = HiddenField()
    holes = CountField("Holes")
    cutting_slips = CountField("Cutting slips", hint="before depth; bottoming does not count")
    tap_end = WordField("How is the tap now?", TapEnd, default=TapEnd.STILL_GOOD.value)
    broke_at_hole = CountField("Broke at which hole?")
    hole_not_known = BooleanField("Not known")
    part_fate = WordField("What became of the part?", PartFate)
    cause = WordField("Likely cause", Cause)
    rpm = CountField("Speed (rpm)")
    depth_control = PickField("Depth by", DepthControl)
    lubricant = PickField("Lubricant", Lubricant)
    note = NoteField("Note")


class BatchForm(BatchFields):
    """A batch at the station; who, what and which tap are as the page showed them."""

    batch_id = HiddenField()
    offered = HiddenField()
    person = HiddenField()
    job = HiddenField()
    tap = HiddenField()
    account = NoteField("What happened?")


class CorrectionForm(BatchFields):
    """An entry with all that can be put right, and why."""

    person = PickField("Operator", first=TO_CHOOSE)
    job = PickField("Job", first=TO_CHOOSE)
    tap = CodeField("Tap")
    reason = NoteField("Why is it corrected?", hint="A few words. The old entry stays readable.")


class CancelForm(Form):
    """Why an entry shall count no longer."""

    reason = NoteField("Why shall it not count?", hint="A few words. The entry stays readable.")


class TapCodeForm(Form):
    """A tap's code, typed or scanned."""

    tap = CodeField("Scan or type the code on the tap")
