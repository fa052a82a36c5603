"""The set-up card: everything that keeps this tap alive in this hole, from one question."""

from __future__ import annotations

from dataclasses import replace

from shopfloor.core.floor.cutting import surface_speed_m_min
from shopfloor.core.phrases import joined, phrase
from shopfloor.core.set_up import clutch, torque
from shopfloor.core.set_up.drive import largest_mm, margin
from shopfloor.core.set_up.question import SetUpCard, SetUpQuestion
from shopfloor.core.set_up.speeds import start_range
from shopfloor.core.set_up.tap_choice import SOURCE, choose_drill, mouth_diameter_mm, suitable_style
from shopfloor.core.set_up.warnings import warnings
from shopfloor.core.threads.depth import HoleNeed, hole_need, revolutions
from shopfloor.core.threads.percent import percent_of_thread
from shopfloor.core.threads.series import Designation, Series
from shopfloor.core.vocabulary import Chamfer, TapStyle


def set_up(question: SetUpQuestion) -> SetUpCard:
    """The card for a thread, in a material and a hole, with a tap, at a station.

    Returns
    -------
    SetUpCard     figures with their sources, and warnings, the most serious first

    Raises
    ------
    InputError    an impossible set-up: a hole as large as its thread, a thread for which there is no drill

    References
    ----------
    In `sources` of the result, by kind of figure; the rules of the warnings are common practice, no source.
    """
    card = _figures(question)
    return replace(card, warnings=warnings(card))


def _figures(question: SetUpQuestion) -> SetUpCard:
    thread, material, hole, tap = question.thread, question.material, question.hole, question.tap
    choice = suitable_style(material, hole.is_blind)
    style, chamfer = tap.style or choice.style, tap.chamfer or Chamfer.PLUG
    is_forming = style is TapStyle.FORMING
    drills = choose_drill(thread, material, hole.depth_mm, forming=is_forming, percent=question.percent)
    hole_mm = hole.drilled_mm or drills.taken.drill.diameter_mm
    start = start_range(material, tap.substrate, tap.is_coated)
    needed = torque.tap_torque(material, thread.major_mm, thread.pitch_mm, hole_mm, style, chamfer)
    turns = float(revolutions(hole.depth_mm, thread.pitch_mm))
    return SetUpCard(
        question=question,
        choice=choice,
        style=style,
        chamfer=chamfer,
        drills=drills,
        hole_mm=hole_mm,
        thread_percent=_percent(thread, hole_mm, forming=is_forming),
        mouth_mm=mouth_diameter_mm(thread.major_mm, thread.pitch_mm),
        need=_need(question, chamfer, hole_mm),
        surface_speed_m_min=surface_speed_m_min(thread.major_mm, question.rpm),
        start=start,
        revolutions=turns,
        seconds_per_hole=60 * turns / question.rpm,
        seconds_in_and_out=2 * 60 * turns / question.rpm,
        torque=needed,
        power_kw=torque.power_kw(needed.sharp_nm, question.rpm),
        dull_power_kw=torque.power_kw(needed.dull_nm, question.rpm),
        clutch=clutch.clutch_window(needed, thread.major_mm, thread.pitch_mm, style, tap.substrate),
        margin=margin(question.station, needed.dull_nm),
        largest_mm=largest_mm(question.station, material, style),
        lubricant=material.lubricant,
        sources=_sources(material.kc_source, start.source, is_forming=is_forming),
    )


def _percent(thread: Designation, hole_mm: float, *, forming: bool) -> float | None:
    return None if thread.series is Series.NPT else float(percent_of_thread(thread, hole_mm, forming=forming))


def _need(question: SetUpQuestion, chamfer: Chamfer, hole_mm: float) -> HoleNeed | None:
    if not question.hole.is_blind:
        return None
    return hole_need(question.hole.depth_mm, question.thread.pitch_mm, chamfer, hole_mm)


def _sources(force: str, speed: str, *, is_forming: bool) -> dict[str, str]:
    by_style = torque.FORMING_SOURCE if is_forming else torque.STYLE_SOURCE
    return {
        "start_speed": speed,
        "torque": _guide(joined([torque.FORMULA_SOURCE, force, by_style], "; ")),
        "dull_torque": _guide(torque.DULL_SOURCE),
        "clutch": _guide(clutch.SOURCE),
        "thread_percent": phrase(
            "Machinery's Handbook: 100 % is a depth of 0.6495 P a side; a forming tap by its own formula"
        ),
        "tap_drill": phrase(
            "the handbook's where material and depth allow as much thread; how much they allow: {source}", source=SOURCE
        ),
        "drill_depth": phrase(
            "threads of the chamfer: US Army TM 9-254; one pitch kept free: common practice, no source"
        ),
        "tap_style, lubricant, hole mouth, warnings": SOURCE,
    }


def _guide(source: str) -> str:
    return phrase("guide value: {source}", source=source)
