"""The trade's words as enums: the one place that decides what may be logged and what each word means.

A member's value is what the database, CSV files and JSON hold; its `label` is what a page shows. Common practice of the
trade, no source, except the ISO 513 groups.
"""

from __future__ import annotations

from enum import Enum
from typing import Self

from shopfloor.core.phrases import Phrase, phrase


class Word(str, Enum):
    """A word of the trade with the label that pages show and other spellings that files may use."""

    label: Phrase
    also: tuple[str, ...]

    def __new__(cls, value: str, label: str, *also: str) -> Word:
        """A member from value, label and other spellings."""
        word = str.__new__(cls, value)
        word._value_ = value
        word.label = phrase(label)
        word.also = also
        return word

    @classmethod
    def of(cls, value: str | None) -> Self | None:
        """The word with this value; None for None."""
        return None if value is None else next(word for word in cls if word.value == value)

    @classmethod
    def choices(cls) -> list[tuple[str, str]]:
        """(value, label) pairs in order, for forms."""
        return [(word.value, word.label) for word in cls]


class TapEnd(Word):
    """State of a tap at the end of a run."""

    STILL_GOOD = "still good", "Still good", "good", "ok", "in service"
    WORN = "worn", "Worn", "dull"
    CHIPPED = "chipped", "Chipped"
    BROKEN = "broken", "Broken", "broke", "snapped"
    RETIRED_EARLY = "retired early", "Changed in time", "retired", "changed", "replaced"


class Confirmed(Word):
    """A number of a run that was queried, and confirmed by whoever typed it."""

    HOLES = "holes", "Holes"
    SLIPS = "cutting_slips", "Cutting slips"
    SPEED = "rpm", "Speed (rpm)"


class Mode(Word):
    """Mode of failure. The modes compete: a tap retired worn had not broken by then."""

    BREAK = "break", "Break"
    WEAR = "wear", "Wear"


FAILURE_MODE: dict[TapEnd, Mode] = {TapEnd.BROKEN: Mode.BREAK, TapEnd.WORN: Mode.WEAR, TapEnd.CHIPPED: Mode.WEAR}
"""A chipped tap counts as worn: it spoils threads and ends the life, but nothing is stuck in the part."""


class PartFate(Word):
    """What happened to the part in which a tap failed."""

    GOOD = "good", "Part good"
    REWORKED = "reworked", "Part reworked"
    SCRAPPED = "scrapped", "Part scrapped"


class Cause(Word):
    """Likely cause of a broken tap, in the order in which shops usually find it."""

    BOTTOMED = "bottomed", "Hit the bottom"
    CHIPS_PACKED = "chips packed", "Chips packed"
    OUT_OF_LINE = "out of line", "Out of line"
    HOLE_SMALL_OR_HARD = "hole small or hard", "Hole small or hard"
    LUBRICANT = "lubricant", "No or wrong lubricant"
    WRONG_STYLE = "wrong style", "Wrong tap style"
    TOO_FAST = "too fast", "Too fast"
    CLUTCH_TIGHT = "clutch tight", "Clutch too tight"
    WORN_OUT = "worn out", "Used past its life"
    NOT_KNOWN = "not known", "Not known"


class DepthControl(Word):
    """What ends the thread at its depth. With the clutch at the bottom, a slip at the end of each hole is normal."""

    DEPTH_STOP = "depth stop", "Depth stop"
    CLUTCH = "clutch at bottom", "Clutch at the bottom"
    BY_EYE = "by eye", "By eye"


class Lubricant(Word):
    """How the tap is lubricated."""

    NONE = "none", "None (dry)"
    MIST = "mist", "Mist"
    BRUSHED = "brushed or dipped", "Brushed or dipped"
    FLOOD = "flood", "Flood"


class HoleMaking(Word):
    """How the hole was made before tapping."""

    DRILLED = "drilled", "Drilled"
    PUNCHED = "punched", "Punched"
    CAST = "cast", "Cast"
    LASER = "laser cut", "Laser cut"
    PLASMA = "plasma cut", "Plasma cut"
    REAMED = "drilled and reamed", "Drilled and reamed"


class TapStyle(Word):
    """Form of the tap's flutes."""

    SPIRAL_POINT = "spiral point", "Spiral point"
    SPIRAL_FLUTE = "spiral flute", "Spiral flute"
    STRAIGHT_FLUTE = "straight flute", "Straight flute"
    FORMING = "forming", "Forming"


class Chamfer(Word):
    """Length of the tap's chamfer (ASME B94.9 names)."""

    TAPER = "taper", "Taper"
    PLUG = "plug", "Plug"
    BOTTOMING = "bottoming", "Bottoming"


class Substrate(Word):
    """What the tap is made of."""

    HSS = "HSS", "HSS"
    HSS_COBALT = "HSS-E", "HSS with cobalt"
    POWDER = "HSS-PM", "Powder-metal HSS"
    CARBIDE = "carbide", "Solid carbide"


class IsoGroup(Word):
    """Groups of work materials by their ISO 513 letter."""

    P = "P", "P steel"
    M = "M", "M stainless steel"
    K = "K", "K cast iron"
    N = "N", "N non-ferrous"
    S = "S", "S heat-resistant"
    H = "H", "H hardened"


class StationKind(Word):
    """What turns the tap."""

    ELECTRIC_ARM = "electric arm", "Powered arm, electric"
    AIR_ARM = "air arm", "Powered arm, air"
    DRILL_PRESS = "drill press", "Drill press with tapping head"
    MACHINING_CENTRE = "machining centre", "Machining centre"
    HAND_WRENCH = "hand wrench", "Hand wrench"


class Role(Word):
    """What a person does in the shop."""

    OPERATOR = "operator", "Operator"
    CRIB = "crib", "Tool crib"
    QUALITY = "quality", "Quality lead"
    ADMIN = "admin", "Supervisor", "administrator"


class Attempt(Word):
    """How an attempt to log in ended, or that a supervisor let somebody try again at once."""

    RIGHT = "right", "Right"
    WRONG = "wrong", "Wrong"
    TOO_SOON = "too soon", "Not looked at: to wait"
    RELEASED = "released", "Released"


class MovementKind(Word):
    """A movement of stock; the sign of its number says whether the crib gains or loses taps ready for use."""

    RECEIVED = "received", "Received"
    ISSUED = "issued", "Issued to a station"
    RETURNED = "returned", "Returned to the crib"
    SENT_TO_REGRIND = "sent to regrind", "Sent to regrind"
    REGROUND = "reground", "Back from regrind"
    SCRAPPED = "scrapped", "Scrapped"
    LOST = "lost", "Lost"
    COUNTED = "counted", "Counted"


COMES_IN = frozenset({MovementKind.RECEIVED, MovementKind.RETURNED, MovementKind.REGROUND})
"""Movements after which a tap is in the crib."""


class TapState(Word):
    """Where a tap's life stands, derived from the log."""

    UNUSED = "unused", "Unused"
    IN_SERVICE = "in service", "In service"
    WORN = "worn", "Worn"
    CHIPPED = "chipped", "Chipped"
    BROKEN = "broken", "Broken"
    RETIRED_EARLY = "retired early", "Changed in time"
    LOST = "lost", "Lost"


class LifeMeasure(Word):
    """What tap life is counted in; where depths differ, length of thread says more than the number of holes."""

    HOLES = "holes", "Holes"
    THREAD = "thread length", "Length of thread"


class UsedBefore(Word):
    """What is known of the holes on a tap when the shop first recorded it."""

    NONE = "none", "None: it is new"
    NUMBER = "number", "A number"
    NOT_KNOWN = "not known", "Used, nobody knows how much"


class GaugeResult(Word):
    """What the GO/NO-GO gauge said of the thread."""

    PASSED = "passed", "Passed"
    FAILED = "failed", "Failed"
