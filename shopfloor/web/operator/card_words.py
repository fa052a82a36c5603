"""The set-up card as an operator reads it: figures with their units, and each line with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shopfloor.core.cutting import ft_min_from_m_min
from shopfloor.core.rates import Rate
from shopfloor.core.set_up.question import SetUpCard, Weight
from shopfloor.core.set_up.speeds import NotProven, ProvenSpeed
from shopfloor.core.units import MM_PER_INCH
from shopfloor.services.set_up_card import StationCard
from shopfloor.web.formats import decimal

_TONES = {Weight.STOP: "bad", Weight.SERIOUS: "bad", Weight.CAUTION: "warn", Weight.REMINDER: "none"}
_OTHER_DRILLS = 3


@dataclass(frozen=True)
class CardLine:
    """One line of the card: what it is about, what is right, and why."""

    name: str
    value: str
    why: str = ""


@dataclass(frozen=True)
class BandLine:
    """What the log holds of one speed band."""

    band: str
    holes: float
    failures: Rate
    breaks: int
    is_proven: bool


def measure(mm: float) -> str:
    """A length to a hundredth of a millimetre at most: '12', '7.94'."""
    return f"{round(mm, 2):g}"


def millimetres(mm: float) -> str:
    """A length with its unit: '7.94 mm'."""
    return f"{measure(mm)}\u00a0mm"


def both_units(mm: float) -> str:
    """A length in mm and in inches."""
    return f"{millimetres(mm)} ({mm / MM_PER_INCH:.3f}\u00a0in)"


def newton_metres(torque_nm: float) -> str:
    """A torque."""
    return f"{decimal(torque_nm)}\u00a0N\u00a0m"


def tone(weight: Weight) -> str:
    """How a warning of this weight is shown."""
    return _TONES[weight]


def drill_name(card: SetUpCard) -> str:
    """The drill to take, with its size in mm where its name does not tell."""
    drill = card.drills.taken.drill
    return millimetres(drill.diameter_mm) if not drill.is_inch else f"{drill.name} ({millimetres(drill.diameter_mm)})"


def advised_rpm(card: SetUpCard) -> str:
    """The speeds to choose from, in turns."""
    low, high = card.advised.rpm(card.question.thread.major_mm)
    return f"{low:.0f} to {high:.0f}\u00a0rpm"


def card_lines(found: StationCard) -> tuple[CardLine, ...]:
    """The card line by line, in the order in which a person sets up."""
    if found.card is None:
        return ()
    card = found.card
    return (
        *_thread_lines(card),
        *_tap_lines(found, card),
        *_hole_lines(card),
        *_speed_lines(card),
        *_force_lines(card),
    )


def _thread_lines(card: SetUpCard) -> Iterator[CardLine]:
    thread, material = card.question.thread, card.question.material
    diameters = f"major diameter {both_units(thread.major_mm)}, pitch {millimetres(thread.pitch_mm)}"
    yield CardLine("Thread", thread.text, f"{diameters}, {thread.tpi:.4g} threads an inch")
    yield CardLine("Material", f"{material.name}, group {material.group.value}", "as the card reckons it")


def _tap_lines(found: StationCard, card: SetUpCard) -> Iterator[CardLine]:
    formed = "; a forming tap would do as well" if card.choice.may_be_formed else ""
    yield CardLine("Tap style that suits", card.choice.style.label, f"{card.choice.reason}{formed}")
    if found.tap is None:
        other = f"{found.other_tap.code} there cuts {found.other_tap.thread}; " if found.other_tap else ""
        why = f"{other}figures are for the style that suits, plug chamfer"
        yield CardLine("Tap in the station", "none for this job", why)
        return
    holes = (
        f"{found.tap.logged_holes:,} holes logged, came used" if found.tap.holes is None else _holes(found.tap.holes)
    )
    tap, here = card.question.tap, found.tap
    made = f"{card.style.label.lower()}, {card.chamfer.label.lower()} chamfer, {tap.substrate.label}"
    yield CardLine(
        "Tap in the station", f"{here.code}, {holes}", f"{here.tap_type}: {made}{', coated' * tap.is_coated}"
    )


def _holes(number: int) -> str:
    return f"{number:,} hole{'s' * (number != 1)} so far"


def _hole_lines(card: SetUpCard) -> Iterator[CardLine]:
    percent = card.drills.taken.percent
    gives = "" if percent is None else f", {percent:.0f}\u00a0% of thread"
    yield CardLine("Tap drill", f"{drill_name(card)}{gives}", card.drills.wanted.reason)
    others = [drill for drill in card.drills.others if drill.percent is not None][:_OTHER_DRILLS]
    if others:
        near = ", ".join(f"{drill.drill.name} {drill.percent:.0f}\u00a0%" for drill in others)
        yield CardLine("Nearest drills", near, "what each leaves of the thread")
    drilled, in_hole = card.question.hole.drilled_mm, card.thread_percent
    if drilled is not None and in_hole is not None and measure(drilled) != measure(card.drills.taken.drill.diameter_mm):
        yield CardLine(
            "Hole on record", f"{both_units(drilled)}, {in_hole:.0f}\u00a0% of thread", "torque is for this hole"
        )
    yield CardLine("Chamfer the mouth to", both_units(card.mouth_mm), "the major diameter and a quarter of the pitch")
    yield from _depth_lines(card)


def _depth_lines(card: SetUpCard) -> Iterator[CardLine]:
    hole, need = card.question.hole, card.need
    kind = "blind" if hole.is_blind else "through"
    yield CardLine("Depth of full thread", f"{both_units(hole.depth_mm)}, {kind}", f"{card.revolutions:.1f} turns")
    if need is not None:
        parts = (
            f"full thread, {millimetres(need.chamfer_mm)} of tap chamfer, {millimetres(need.clearance_mm)} kept free"
        )
        yield CardLine("Drill at least", both_units(need.drill_depth_mm), f"{parts}; the point comes on top")


def _speed_lines(card: SetUpCard) -> Iterator[CardLine]:
    advised, speed = card.advised, card.surface_speed_m_min
    yield CardLine("Surface speed", f"{decimal(speed)} m/min ({ft_min_from_m_min(speed):.0f} ft/min)")
    ends = f"{decimal(advised.low)} to {decimal(advised.high)} {advised.unit}"
    name = "Proven in this shop" if advised.is_proven else "Published start range"
    yield CardLine(name, f"{advised_rpm(card)} ({ends})", advised.why)
    if isinstance(card.question.proven, NotProven):
        yield CardLine("Proven in this shop", "not yet", card.question.proven.reason)
    seconds = f"{decimal(card.seconds_per_hole)} s in, {decimal(card.seconds_in_and_out)} s in and out"
    yield CardLine("Time per hole", seconds, "tapping alone, out as fast as in")
    last = card.question.lubricant
    yield CardLine("Lubricant", card.lubricant, "" if last is None else f"last time: {last.label.lower()}")


def _force_lines(card: SetUpCard) -> Iterator[CardLine]:
    torque, clutch = card.torque, card.clutch
    window = f"{decimal(clutch.low_nm)} to {newton_metres(clutch.high_nm)}" if clutch.is_open else "no safe setting"
    needs = f"sharp tap about {newton_metres(torque.sharp_nm)}, dull about {newton_metres(torque.dull_nm)}"
    yield CardLine("Clutch between", window, f"{needs}; the tap shears at about {newton_metres(clutch.shear_nm)}")
    watts = f"{decimal(1000 * card.power_kw)}\u00a0W"
    yield CardLine("Power", watts, f"with a dull tap {decimal(1000 * card.dull_power_kw)}\u00a0W")
    yield _station_line(card)


def _station_line(card: SetUpCard) -> CardLine:
    has = card.question.station.tap_torque_nm
    if card.margin is None or has is None:
        return CardLine("Station", "its torque is not on record", "complete the station under Set up")
    limit = "" if card.largest_mm is None else f"; largest thread here {millimetres(card.largest_mm)}"
    return CardLine(
        "Station", f"{decimal(card.margin)} times what a dull tap needs", f"{newton_metres(has)} at the tap{limit}"
    )


def band_lines(card: SetUpCard) -> tuple[BandLine, ...]:
    """What the log holds of each speed band of such taps in this material."""
    proven = card.question.proven
    bands = proven.bands if isinstance(proven, ProvenSpeed) else ()
    return tuple(
        BandLine(seen.band.label, seen.failures.holes, seen.failures, seen.breaks.events, seen.band in bands)
        for seen in (proven.evidence if proven is not None else ())
    )
