"""What could go wrong with a set-up, in order of severity. The rules are common practice of the trade, no source."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shopfloor.core.phrases import figure, largest_thread, length, phrase, rounded, surface_speed, torque
from shopfloor.core.set_up.drive import StationDrive, largest_mm
from shopfloor.core.set_up.materials import material_of_group
from shopfloor.core.set_up.question import SetUpCard, SetUpWarning, Weight
from shopfloor.core.threads.depth import check_depth
from shopfloor.core.threads.series import Series
from shopfloor.core.vocabulary import DepthControl, HoleMaking, IsoGroup, Lubricant, TapStyle

LONG_RUN_HOLES = 300
SMALL_TAP_MM = 6.35

_FAR_TOO_FAST = 1.5
_THERMAL = {HoleMaking.LASER, HoleMaking.PLASMA}
_LEAST_OF_LARGEST = 0.4
"""A station is clumsy below this fraction of its largest thread in steel: 1/4 in for one that taps 5/8 in."""
_THIN_MARGIN = 1.25
_MORE_PERCENT, _MUCH_MORE_PERCENT = 5, 12
_FULL_PERCENT = 83.4
"""At this percentage the hole is the basic minor diameter, D - 1.0825 P: above it the tap's root cuts too."""
_SHALLOW_DIAMETERS = 1.0


def warnings(card: SetUpCard) -> tuple[SetUpWarning, ...]:
    """All warnings about a set-up, the most serious first."""
    order = list(Weight)
    found = [warning for rule in _RULES for warning in rule(card)]
    return tuple(sorted(found, key=lambda warning: order.index(warning.weight)))


def _hole_too_shallow(card: SetUpCard) -> Iterator[SetUpWarning]:
    drilled, need = card.question.hole.drill_depth_mm, card.need
    if drilled is None or need is None or not (check := check_depth(need, drilled)).is_too_shallow:
        return
    yield SetUpWarning(
        Weight.STOP,
        "Hole too shallow",
        phrase(
            "{full_thread_mm} of full thread with a {chamfer} chamfer need {drill_depth_mm} of drilled depth; "
            "with {drilled} the tap hits the bottom",
            full_thread_mm=length(need.full_thread_mm, 4),
            chamfer=card.chamfer.label.lower(),
            drill_depth_mm=length(need.drill_depth_mm, 3),
            drilled=length(drilled, 4),
        ),
        phrase(
            "drill {missing_mm} deeper, thread no deeper than {possible_full_thread_mm}, "
            "or take a tap with a shorter chamfer",
            missing_mm=length(check.missing_mm, 2),
            possible_full_thread_mm=length(check.possible_full_thread_mm, 3),
        ),
    )


def _thread_too_large(card: SetUpCard) -> Iterator[SetUpWarning]:
    largest, major = card.largest_mm, card.question.thread.major_mm
    stated = card.question.material.group in card.question.station.largest_mm
    if stated and largest is not None and major > largest * 1.001:
        yield SetUpWarning(
            Weight.STOP,
            "Thread too large for the station",
            phrase(
                "the station goes up to {largest} in {material}",
                largest=largest_thread(largest),
                material=card.question.material.name,
            ),
            "take a larger station, or a reducer if the machine's maker allows it",
        )
    yield from _too_little_torque(card)


def _too_little_torque(card: SetUpCard) -> Iterator[SetUpWarning]:
    station, needed, do = card.question.station, card.torque, "take a larger station, a reducer, or a larger drill"
    have = station.tap_torque_nm
    if have is None or card.margin is None or card.margin >= _THIN_MARGIN:
        return
    if have < needed.sharp_nm:
        reason = phrase(
            "even a sharp tap needs about {sharp}; the station gives {have}",
            sharp=torque(needed.sharp_nm),
            have=torque(have),
        )
        yield SetUpWarning(Weight.STOP, "Thread too large for the station's torque", reason, do)
    elif have < needed.dull_nm:
        reason = phrase(
            "the station gives {have}; a dull tap needs about {dull} and stalls",
            have=torque(have),
            dull=torque(needed.dull_nm),
        )
        yield SetUpWarning(Weight.SERIOUS, "Station too weak for a dull tap", reason, do)
    else:
        reason = phrase(
            "{have} is only {margin} times what a dull tap needs",
            have=torque(have),
            margin=rounded(card.margin, 2),
        )
        yield SetUpWarning(
            Weight.CAUTION, "Little torque to spare", reason, "change the tap early; keep it well lubricated"
        )


def _thread_too_small(card: SetUpCard) -> Iterator[SetUpWarning]:
    steel = material_of_group(IsoGroup.P)
    largest = largest_mm(card.question.station, steel, TapStyle.STRAIGHT_FLUTE)
    if largest is not None and card.question.thread.major_mm < _LEAST_OF_LARGEST * largest * 0.999:
        yield SetUpWarning(
            Weight.CAUTION,
            "Thread small for the station",
            phrase(
                "the station taps up to {largest} in steel; its weight and torque hide what a small tap feels",
                largest=largest_thread(largest),
            ),
            "take a smaller station, or set the clutch by trial on scrap",
        )


def _clutch_shut(card: SetUpCard) -> Iterator[SetUpWarning]:
    if not card.clutch.is_open:
        yield SetUpWarning(
            Weight.STOP,
            "No safe clutch setting",
            phrase(
                "a sharp tap needs about {low} with its allowance, but from {high} on this tap may shear",
                low=torque(card.clutch.low_nm),
                high=torque(card.clutch.high_nm),
            ),
            "take a larger drill, a stronger style of tap (spiral point in a through hole) or a tougher substrate",
        )


def _cannot_be_formed(card: SetUpCard) -> Iterator[SetUpWarning]:
    material = card.question.material
    if card.style is TapStyle.FORMING and not material.is_ductile:
        yield SetUpWarning(
            Weight.STOP,
            phrase("Forming tap in {material}", material=material.name),
            "forming needs a material that flows; this one cracks or seizes",
            phrase("take a tap that cuts: {style}", style=card.choice.style.label.lower()),
        )


def _chips_stay(card: SetUpCard) -> Iterator[SetUpWarning]:
    question = card.question
    if not question.hole.is_blind or card.style in (TapStyle.SPIRAL_FLUTE, TapStyle.FORMING):
        return
    if card.style is TapStyle.SPIRAL_POINT:
        reason = "a spiral point pushes the chips to the bottom of the hole, where they pack"
    elif (
        not question.material.has_short_chips and question.hole.depth_mm > _SHALLOW_DIAMETERS * question.thread.major_mm
    ):
        reason = "straight flutes do not lift long chips out of a hole deeper than its diameter"
    else:
        return
    do = phrase("take {style}; else back off often and clear the chips", style=card.choice.style.label.lower())
    yield SetUpWarning(Weight.SERIOUS, "Tap cannot clear its chips from a blind hole", reason, do)


def _thermal_cut(card: SetUpCard) -> Iterator[SetUpWarning]:
    hole = card.question.hole
    if hole.making not in _THERMAL:
        return
    cut = hole.making.label.lower()
    if not hole.was_reamed:
        reason = phrase("a {cut} hole has a hard skin and is seldom round", cut=cut)
        yield _not_done(
            hole.was_reamed,
            phrase("Hole is {cut}", cut=cut),
            phrase("reamed"),
            reason,
            phrase("ream or drill it to size before tapping"),
        )
    if not hole.was_chamfered:
        reason = phrase("the tap's first teeth meet a hard, ragged edge")
        do = phrase("chamfer the mouth to {mouth_mm}", mouth_mm=length(card.mouth_mm, 3))
        yield _not_done(hole.was_chamfered, phrase("Hole is {cut}", cut=cut), phrase("chamfered"), reason, do)


def _not_done(was_done: bool | None, what: str, done: str, reason: str, do: str) -> SetUpWarning:
    """The warning about something that was not done, or that nobody has said was done."""
    if was_done is None:
        return SetUpWarning(
            Weight.CAUTION, phrase("{what}: is it {done}?", what=what, done=done), reason, phrase("if not, {do}", do=do)
        )
    return SetUpWarning(Weight.SERIOUS, phrase("{what} and not {done}", what=what, done=done), reason, do)


def _too_fast(card: SetUpCard) -> Iterator[SetUpWarning]:
    advised, question = card.advised, card.question
    _, most_rpm = advised.rpm(question.thread.major_mm)
    if question.rpm < most_rpm or (not advised.is_proven and question.rpm == most_rpm):
        return
    do = _slow_down(question.station, most_rpm)
    if advised.is_proven:
        reason = phrase(
            "this shop has proven up to {most_rpm} rpm ({high} {unit}): {why}",
            most_rpm=rounded(most_rpm, 3),
            high=rounded(advised.high),
            unit=advised.unit,
            why=advised.why,
        )
        yield SetUpWarning(
            Weight.CAUTION, "Faster than this shop has proven", reason, phrase("{do}, or log it as a trial", do=do)
        )
        return
    yield SetUpWarning(
        Weight.SERIOUS if question.rpm > _FAR_TOO_FAST * most_rpm else Weight.CAUTION,
        phrase("Too fast for {material}", material=question.material.name),
        phrase(
            "{speed}; start ranges end at {high}, and tap life falls steeply with speed",
            speed=surface_speed(card.surface_speed_m_min),
            high=surface_speed(advised.high),
        ),
        do,
    )


def _slow_down(station: StationDrive, most_rpm: float) -> str:
    """What to do about excessive speed at a station, which may be unable to run any slower."""
    if station.tap_rpm_low is not None and station.tap_rpm_low > most_rpm:
        return phrase("take a station that runs slower")
    return phrase("set {most_rpm} rpm or less", most_rpm=rounded(most_rpm, 3))


def _out_of_station_range(card: SetUpCard) -> Iterator[SetUpWarning]:
    station, rpm = card.question.station, card.question.rpm
    low, high = station.tap_rpm_low, station.tap_rpm_high
    if (low is not None and rpm < low * 0.999) or (high is not None and rpm > high * 1.001):
        yield SetUpWarning(
            Weight.SERIOUS,
            "Speed is outside the station's range",
            phrase(
                "{rpm} rpm asked; the station turns the tap at {range} rpm",
                rpm=rounded(rpm),
                range=_range(station),
            ),
            "set a speed within its range, or take another station",
        )


def _range(station: StationDrive) -> str:
    ends = [end for end in (station.tap_rpm_low, station.tap_rpm_high) if end is not None]
    return " to ".join(f"{rounded(end, 4)}" for end in sorted(set(ends)))


def _too_much_thread(card: SetUpCard) -> Iterator[SetUpWarning]:
    suitable, percent = card.drills.suitable, card.thread_percent
    if percent is None or suitable.percent is None:
        return
    more = percent - max(card.drills.wanted.percent, suitable.percent)
    is_full = card.style is not TapStyle.FORMING and percent > _FULL_PERCENT
    if more > _MORE_PERCENT or is_full:
        yield SetUpWarning(
            Weight.SERIOUS if is_full or more > _MUCH_MORE_PERCENT else Weight.CAUTION,
            "More thread than depth and material ask for",
            phrase(
                "a hole of {hole_mm} leaves {percent} % of thread; {reason}",
                hole_mm=length(card.hole_mm, 4),
                percent=figure(f"{percent:.0f}"),
                reason=card.drills.wanted.reason,
            ),
            phrase(
                "unless the drawing asks for it, drill {drill} ({percent} %)",
                drill=suitable.drill.name,
                percent=figure(f"{suitable.percent:.0f}"),
            ),
        )


def _by_eye(card: SetUpCard) -> Iterator[SetUpWarning]:
    question = card.question
    is_long = question.holes is not None and question.holes >= LONG_RUN_HOLES
    if question.depth_control is DepthControl.BY_EYE and is_long:
        yield SetUpWarning(
            Weight.SERIOUS if question.hole.is_blind else Weight.CAUTION,
            "Depth by eye on a long run",
            phrase("in {holes} holes one is sure to go too deep", holes=question.holes)
            if question.hole.is_blind
            else "depths will differ",
            "set a depth stop or digital depth, and try it on the first part",
        )


def _pipe(card: SetUpCard) -> Iterator[SetUpWarning]:
    thread = card.question.thread
    if thread.series.is_pipe:
        taper = thread.series is Series.NPT
        yield SetUpWarning(
            Weight.CAUTION,
            "Taper pipe thread" if taper else "Pipe thread",
            "every tooth of a taper tap cuts to the end"
            if taper
            else "its 55 degree form is calculated as one of 60 degrees",
            "take torque and clutch window as rougher guides than elsewhere; go slower",
        )


def _small(card: SetUpCard) -> Iterator[SetUpWarning]:
    if card.question.thread.major_mm < SMALL_TAP_MM * 0.999:
        yield SetUpWarning(
            Weight.CAUTION,
            "Small tap: it forgives nothing",
            phrase(
                "its core shears at about {shear}",
                shear=torque(card.clutch.shear_nm, 2),
            ),
            "align with care, set the clutch by trial on scrap, use a fresh tap",
        )


def _dry(card: SetUpCard) -> Iterator[SetUpWarning]:
    if card.question.lubricant is Lubricant.NONE and not card.lubricant.startswith("dry"):
        do = phrase("use {lubricant}", lubricant=card.lubricant)
        yield SetUpWarning(
            Weight.SERIOUS,
            "No lubricant",
            phrase("{material} is not tapped dry", material=card.question.material.name),
            do,
        )


def _square(card: SetUpCard) -> Iterator[SetUpWarning]:
    yield SetUpWarning(
        Weight.REMINDER,
        "Bench flat, work clamped, head square to it",
        "a tap out of line with its hole bends at every turn and breaks",
        "check with a square, and after every move of work or station",
    )


_RULES: tuple[Callable[[SetUpCard], Iterator[SetUpWarning]], ...] = (
    _hole_too_shallow,
    _clutch_shut,
    _thread_too_large,
    _cannot_be_formed,
    _chips_stay,
    _thermal_cut,
    _out_of_station_range,
    _too_fast,
    _dry,
    _too_much_thread,
    _by_eye,
    _thread_too_small,
    _pipe,
    _small,
    _square,
)
"""Warnings of equal severity keep this order."""
