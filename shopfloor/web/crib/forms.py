"""The crib's forms. Fields keep what was typed; the services say what is wrong, the same way for every entry point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, ClassVar

from shopfloor.core.input.crib_entries import ShownTime
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Chamfer, GaugeResult, MovementKind, Substrate, TapStyle, UsedBefore
from shopfloor.services.catalogue.tap_types import tap_type_codes
from shopfloor.services.ledger.movement_corrections import MoveHistory
from shopfloor.web.context import work
from shopfloor.web.forms.fields import (
    TO_CHOOSE,
    CodeField,
    CountField,
    ListField,
    MeasureField,
    MomentField,
    NameField,
    NoteField,
    PickField,
    ThreadField,
    WordField,
)
from shopfloor.web.forms.signature import ReasonedForm, SentOnceForm, SignedForm
from shopfloor.web.i18n.formats import typed_time

USED_CHOICES = [
    (UsedBefore.NONE.value, phrase("None: they are new")),
    *((word.value, word.label) for word in (UsedBefore.NUMBER, UsedBefore.NOT_KNOWN)),
]
BOX_CHOICES = [
    (MovementKind.COUNTED.value, phrase("Counted: this many ready taps are here")),
    (MovementKind.SCRAPPED.value, phrase("Scrapped: this many leave")),
    (MovementKind.LOST.value, phrase("Lost: this many are gone")),
]


def shown_time(at: datetime) -> ShownTime:
    """The time of an entry as its form shows it, and what another one is read by."""
    return ShownTime(at, typed_time(at), work().settings.zone, work().clock())


class BookedForm(SignedForm):
    """A form that books something."""

    last = ("person", "note")

    note = NoteField("Note")


class CheckForm(ReasonedForm):
    """What a gauge check should have said."""

    result = WordField("GO/NO-GO gauge", GaugeResult)
    checked_at = MomentField("When")
    note = NoteField("Note")


class GaugeForm(BookedForm):
    """A GO/NO-GO check."""

    result = WordField("GO/NO-GO gauge on the last thread", GaugeResult)


class MovementForm(ReasonedForm):
    """What a movement should have said; fields that do not belong to its kind are left out."""

    moved_at = MomentField("When")
    station = PickField("Station")
    number = CountField("How many taps")
    note = NoteField("Note")

    def keep(self, history: MoveHistory) -> None:
        """Keep only the fields that can be corrected for this movement."""
        if history.stations:
            self.station.offer(history.stations)
        else:
            del self.station
        if history.number is None:
            del self.number


class MoveForm(BookedForm):
    """What becomes of one tap."""

    movement = WordField("What happens to the tap")

    def offer(self, moves: Sequence[MovementKind]) -> None:
        """Let a person choose among these movements."""
        self.movement.offer((move.value, move.label) for move in moves)


class BoxForm(BookedForm):
    """A count of the crib, or unmarked taps that leave it."""

    movement = WordField("What is booked", BOX_CHOICES)
    number = CountField("How many taps")


class DeliveryForm(BookedForm):
    """New taps."""

    called: ClassVar[Mapping[str, str]] = {"tap": "codes"}

    tap_type = PickField("Tap type", first=TO_CHOOSE)
    number = CountField("How many taps", hint="Unmarked taps go into the box and get a code when they are fitted.")
    codes = ListField("Codes, one a line", hint="Leave it empty if the taps are not marked.")
    lot = CodeField("Lot", hint="If known: a bad lot shows up only if lots are recorded.")
    used = WordField("Holes on them already", USED_CHOICES, default=UsedBefore.NONE.value)
    holes_before = CountField("Holes on each", hint="Only if you chose 'A number'.")

    def __init__(self, typed: Any = None, **values: Any) -> None:
        super().__init__(typed, **values)
        self.tap_type.offer((code, code) for code in tap_type_codes(work()))


class TapTypeForm(SentOnceForm):
    """A new kind of tap."""

    code = CodeField("Code, as the shop calls it", hint="For example: M8 spiral point North.")
    thread = ThreadField("Thread")
    style = PickField("Style", TapStyle)
    chamfer = PickField("Chamfer", Chamfer)
    substrate = PickField("Made of", Substrate)
    coating = NameField("Coating")
    supplier = NameField("Supplier")
    unit_cost = MeasureField("Price of one tap", hint="In the shop's currency. Suggestions are based on it.")
    lead_time_days = CountField("Lead time (days)", hint="From order to shelf. If empty, 14 days are assumed.")
    bin = CodeField("Bin", hint="Where these taps are kept in the crib.")
