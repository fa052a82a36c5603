"""The set-up card as an operator reads it: figures with their units, and each line with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from shopfloor.core.floor.cutting import M_MIN, ft_min_from_m_min
from shopfloor.core.phrases import (
    Measurement,
    Phrase,
    Quantity,
    figure,
    joined,
    largest_thread,
    phrase,
    phrase_of,
    rounded,
)
from shopfloor.core.set_up.question import SetUpCard, Weight
from shopfloor.core.set_up.speeds import NotProven, ProvenSpeed
from shopfloor.core.survival.poisson_rate import Rate
from shopfloor.core.units import MM_PER_INCH, Units
from shopfloor.services.station.set_up_card import StationCard
from shopfloor.web.i18n.formats import decimal, number, significant, speed_band
from shopfloor.web.i18n.language import locale, say, spoken
from shopfloor.web.i18n.measures import units
from shopfloor.web.i18n.quantities import in_pounds

_TONES = {Weight.STOP: "bad", Weight.SERIOUS: "bad", Weight.CAUTION: "warn", Weight.REMINDER: "none"}
_OTHER_DRILLS = 3
_KINDS = {
    "start_speed": phrase("start speed"),
    "torque": phrase("torque"),
    "dull_torque": phrase("dull torque"),
    "clutch": phrase("clutch"),
    "thread_percent": phrase("thread percent"),
    "tap_drill": phrase("tap drill"),
    "drill_depth": phrase("drill depth"),
    "tap_style, lubricant, hole mouth, warnings": phrase("tap style, lubricant, hole mouth, warnings"),
}
"""The kinds of figures that the card's sources cover."""


@dataclass(frozen=True)
class CardLine:
    """One line of the card: what it is about, what is right, and why."""

    name: str
    value: str
    why: str = ""


@dataclass(frozen=True)
class BandLine:
    """The log's evidence on one speed band."""

    band: str
    holes: float
    failures: Rate
    breaks: int
    is_proven: bool


def measure(mm: float) -> str:
    """A length without its unit, to a hundredth of a millimetre or a thousandth of an inch: '12', '7.94', '0.313'."""
    return _bare(mm, units())


def measured(mm: float) -> str:
    """A length with its unit: '7.94 mm', '0.313 in'."""
    return f"{measure(mm)}\u00a0{units().length}"


def both_units(mm: float) -> str:
    """A length in the units of the job, then in the others."""
    other = Units.METRIC if units() is Units.INCH else Units.INCH
    return f"{measured(mm)} ({_bare(mm, other)}\u00a0{other.length})"


def unit_pair() -> str:
    """The heading over lengths in both units: 'mm (in)'."""
    return "in (mm)" if units() is Units.INCH else "mm (in)"


def unit_of_length() -> str:
    """The unit of a length that stands without it."""
    return units().length


def _bare(mm: float, units: Units) -> str:
    return number(f"{mm / MM_PER_INCH:.3f}" if units is Units.INCH else rounded(round(mm, 2)))


def newton_metres(torque_nm: float) -> str:
    """A torque; for a job in inches also in pounds: '12 N m', '8.9 ft-lb (12 N m)'."""
    return str(spoken(Measurement.of(f"{significant(torque_nm)} N m", Quantity.TORQUE, torque_nm)))


def clutch_in_pounds(card: SetUpCard) -> str:
    """The clutch window in pounds; empty for a metric job."""
    if units() is Units.METRIC:
        return ""
    low, high = (in_pounds(end, locale()) for end in (card.clutch.low_nm, card.clutch.high_nm))
    return say(phrase("{low} to {high}; ", low=low, high=high))


def tone(weight: Weight) -> str:
    """How a warning of this weight is shown."""
    return _TONES[weight]


def source_kind(kind: str) -> str:
    """The kind of figures that a source covers."""
    return say(_KINDS.get(kind, kind))


def drill_name(card: SetUpCard) -> str:
    """The drill to use, with its size in mm if its name does not say it."""
    drill = card.drills.taken.drill
    return measured(drill.diameter_mm) if not drill.is_inch else f"{drill.name} ({measured(drill.diameter_mm)})"


def advised_rpm(card: SetUpCard) -> str:
    """The speeds to choose from, in turns."""
    low, high = card.advised.rpm(card.question.thread.major_mm)
    return say(phrase("{low} to {high}\u00a0rpm", low=figure(f"{low:.0f}"), high=figure(f"{high:.0f}")))


def card_lines(found: StationCard) -> tuple[CardLine, ...]:
    """The card line by line, in the order in which a person sets up."""
    if found.card is None:
        return ()
    card = found.card
    lines = (
        *_thread_lines(card),
        *_tap_lines(found, card),
        *_hole_lines(card),
        *_speed_lines(card),
        *_force_lines(card),
    )
    return tuple(CardLine(say(line.name), say(line.value), say(line.why)) for line in lines)


def _thread_lines(card: SetUpCard) -> Iterator[CardLine]:
    thread, material = card.question.thread, card.question.material
    why = phrase(
        "major diameter {diameter}, pitch {pitch}, {tpi} threads an inch",
        diameter=both_units(thread.major_mm),
        pitch=measured(thread.pitch_mm),
        tpi=rounded(thread.tpi, 4),
    )
    yield CardLine("Thread", phrase("{thread}", thread=thread.text), why)
    value = phrase("{material}, group {group}", material=phrase(material.name), group=material.group.value)
    yield CardLine("Material", value, "as the card calculates it")


def _tap_lines(found: StationCard, card: SetUpCard) -> Iterator[CardLine]:
    reason = card.choice.reason
    why = phrase("{reason}; a forming tap would also do", reason=reason) if card.choice.may_be_formed else reason
    yield CardLine("Suitable tap style", card.choice.style.label, why)
    if found.tap is None:
        yield CardLine("Tap in the station", "none for this job", _no_tap(found))
        return
    here = found.tap
    holes = (
        phrase("{holes} holes logged, came used", holes=here.logged_holes)
        if here.holes is None
        else phrase_of(here.holes, "{holes} hole so far", "{holes} holes so far", holes=here.holes)
    )
    yield CardLine("Tap in the station", joined([here.code, holes]), _made(here.tap_type, card))


def _no_tap(found: StationCard) -> Phrase:
    why = phrase("figures are for the suitable style, plug chamfer")
    if found.other_tap is None:
        return why
    other = phrase("{tap} there cuts {thread}", tap=found.other_tap.code, thread=found.other_tap.thread)
    return joined([other, why], "; ")


def _made(tap_type: str, card: SetUpCard) -> Phrase:
    tap = card.question.tap
    made = phrase(
        "{tap_type}: {style}, {chamfer} chamfer, {substrate}",
        tap_type=tap_type,
        style=card.style.label.lower(),
        chamfer=card.chamfer.label.lower(),
        substrate=tap.substrate.label,
    )
    return joined([made, phrase("coated")]) if tap.is_coated else made


def _hole_lines(card: SetUpCard) -> Iterator[CardLine]:
    percent = card.drills.taken.percent
    drill = phrase("{drill}", drill=drill_name(card))
    if percent is not None:
        drill = phrase("{drill}, {percent}\u00a0% of thread", drill=drill, percent=figure(f"{percent:.0f}"))
    yield CardLine("Tap drill", drill, card.drills.wanted.reason)
    others = [drill for drill in card.drills.others if drill.percent is not None][:_OTHER_DRILLS]
    if others:
        near = joined(
            phrase("{drill} {percent}\u00a0%", drill=drill.drill.name, percent=figure(f"{drill.percent:.0f}"))
            for drill in others
        )
        yield CardLine("Nearest drills", near, "what each leaves of the thread")
    drilled, in_hole = card.question.hole.drilled_mm, card.thread_percent
    if drilled is not None and in_hole is not None and measure(drilled) != measure(card.drills.taken.drill.diameter_mm):
        value = phrase(
            "{drill}, {percent}\u00a0% of thread", drill=both_units(drilled), percent=figure(f"{in_hole:.0f}")
        )
        yield CardLine("Hole on record", value, "torque is for this hole")
    mouth = phrase("{length}", length=both_units(card.mouth_mm))
    yield CardLine("Chamfer the mouth to", mouth, "the major diameter and a quarter of the pitch")
    yield from _depth_lines(card)


def _depth_lines(card: SetUpCard) -> Iterator[CardLine]:
    hole, need = card.question.hole, card.need
    depth = joined([both_units(hole.depth_mm), phrase("blind") if hole.is_blind else phrase("through")])
    turns = phrase("{turns} turns", turns=figure(f"{card.revolutions:.1f}"))
    yield CardLine("Depth of full thread", depth, turns)
    if need is not None:
        why = phrase(
            "full thread, {chamfer} of tap chamfer, {clearance} clearance; the drill point is extra",
            chamfer=measured(need.chamfer_mm),
            clearance=measured(need.clearance_mm),
        )
        yield CardLine("Drill at least", phrase("{length}", length=both_units(need.drill_depth_mm)), why)


def _speed_lines(card: SetUpCard) -> Iterator[CardLine]:
    advised = card.advised
    yield CardLine("Surface speed", _both_speeds(card.surface_speed_m_min))
    low, high, unit = advised.low, advised.high, advised.unit
    if unit == M_MIN:
        low, high, unit = units().of_m_min(low), units().of_m_min(high), units().speed
    value = phrase(
        "{rpm} ({low} to {high} {unit})",
        rpm=advised_rpm(card),
        low=decimal(low),
        high=decimal(high),
        unit=unit,
    )
    name = phrase("Proven in this shop") if advised.is_proven else phrase("Published start range")
    yield CardLine(name, value, advised.why)
    if isinstance(card.question.proven, NotProven):
        yield CardLine("Proven in this shop", "not yet", card.question.proven.reason)
    seconds = phrase(
        "{there} s in, {both} s in and out",
        there=decimal(card.seconds_per_hole),
        both=decimal(card.seconds_in_and_out),
    )
    yield CardLine("Time per hole", seconds, "tapping only, out as fast as in")
    last = card.question.lubricant
    why = "" if last is None else phrase("last time: {lubricant}", lubricant=last.label.lower())
    yield CardLine("Lubricant", card.lubricant, why)


def _both_speeds(m_min: float) -> Phrase:
    metric, inch = f"{decimal(m_min)} m/min", f"{number(f'{ft_min_from_m_min(m_min):.0f}')} ft/min"
    first, second = (inch, metric) if units() is Units.INCH else (metric, inch)
    return phrase("{speed} ({other})", speed=first, other=second)


def _force_lines(card: SetUpCard) -> Iterator[CardLine]:
    torque, clutch = card.torque, card.clutch
    window = (
        phrase("{low} to {high}", low=_end(clutch.low_nm), high=newton_metres(clutch.high_nm))
        if clutch.is_open
        else phrase("no safe setting")
    )
    why = phrase(
        "sharp tap about {sharp}, dull about {dull}; the tap shears at about {shear}",
        sharp=newton_metres(torque.sharp_nm),
        dull=newton_metres(torque.dull_nm),
        shear=newton_metres(clutch.shear_nm),
    )
    yield CardLine("Clutch between", window, why)
    dull = phrase("with a dull tap {power}\u00a0W", power=decimal(1000 * card.dull_power_kw))
    yield CardLine("Power", phrase("{power}\u00a0W", power=decimal(1000 * card.power_kw)), dull)
    yield _station_line(card)


def _end(torque_nm: float) -> str:
    """The lower end of a torque window: if there is only one unit, it follows the upper end."""
    return newton_metres(torque_nm) if units() is Units.INCH else decimal(torque_nm)


def _station_line(card: SetUpCard) -> CardLine:
    has = card.question.station.tap_torque_nm
    if card.margin is None or has is None:
        return CardLine("Station", "its torque is not on record", "complete the station under Set up")
    why = phrase("{torque} at the tap", torque=newton_metres(has))
    if card.largest_mm is not None:
        why = joined([why, phrase("largest thread here {length}", length=largest_thread(card.largest_mm))], "; ")
    return CardLine("Station", phrase("{margin} times what a dull tap needs", margin=decimal(card.margin)), why)


def band_lines(card: SetUpCard) -> tuple[BandLine, ...]:
    """The log's evidence on each speed band, for such taps in this material."""
    proven = card.question.proven
    bands = proven.bands if isinstance(proven, ProvenSpeed) else ()
    return tuple(
        BandLine(
            speed_band(seen.band.label), seen.failures.holes, seen.failures, seen.breaks.events, seen.band in bands
        )
        for seen in (proven.evidence if proven is not None else ())
    )
