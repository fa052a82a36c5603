"""The forms of the operator's pages."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wtforms import BooleanField

from shopfloor.core.vocabulary import Cause, DepthControl, Lubricant, PartFate, TapEnd, UsedBefore
from shopfloor.services.record.ids import new_id
from shopfloor.web.forms.fields import (
    TO_CHOOSE,
    CodeField,
    CountField,
    Form,
    HiddenField,
    NoteField,
    PickField,
    WordField,
)


class BatchFields(Form):
    """The fields of a batch, whether logged or corrected."""

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
    slip_holes = HiddenField()
    offered = HiddenField()
    person = HiddenField()
    job = HiddenField()
    tap = HiddenField()
    account = NoteField("What happened?")


class CorrectionForm(BatchFields):
    """An entry with everything that can be corrected, and why."""

    person = PickField("Operator", first=TO_CHOOSE)
    job = PickField("Job", first=TO_CHOOSE)
    tap = CodeField("Tap")
    reason = NoteField("Why is it corrected?", hint="A few words. The old entry stays readable.")


class KeptForm(Form):
    """What can be corrected in an entry on the tablet that the server refused."""

    tap = CodeField("Tap")
    holes = CountField("Holes")
    cutting_slips = CountField("Cutting slips")
    rpm = CountField("Speed (rpm)")
    tap_end = PickField("How was the tap?", TapEnd, first=TO_CHOOSE)
    broke_at_hole = CountField("Broke at which hole?")
    part_fate = PickField("What became of the part?", PartFate)
    note = NoteField("Note")


class CancelForm(Form):
    """Why an entry is cancelled."""

    reason = NoteField("Why should it not count?", hint="A few words. The entry stays readable.")


class TapCodeForm(Form):
    """A tap's code, typed or scanned."""

    # The batch form is on the same page, and ids must differ.
    tap = CodeField("Scan or type the code on the tap", id="tap-code")


class ScanForm(Form):
    """A label, scanned or typed; or, where one of several was touched, its kind and code."""

    station = HiddenField()
    kind = HiddenField()
    meant = HiddenField()
    code = CodeField(
        "Scan or type a code", hint="As printed below the square: T for a tap, J for a job, S for a station."
    )


class FoundTapForm(Form):
    """A tap that is on no list."""

    id = HiddenField()
    tap = CodeField("Code on the tap", hint="Leave it empty if it has none: you are then given one to write on it.")
    tap_type = PickField("Tap type", first=TO_CHOOSE)
    used = WordField("Holes already on it", UsedBefore)
    holes_before = CountField("How many holes", hint="Only if you chose 'A number'.")

    @classmethod
    def of(cls, tap_types: Sequence[str], typed: Any = None) -> FoundTapForm:
        """The form for a tap of one of these types, with what was typed."""
        # The page has another field for a tap's code; ids must differ.
        form = cls(typed, prefix="found-")
        form.tap_type.offer((code, code) for code in tap_types)
        if not typed:
            form.id.data = str(new_id())
            form.tap_type.data = tap_types[0] if len(tap_types) == 1 else ""
        return form
