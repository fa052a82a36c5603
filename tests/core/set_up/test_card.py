from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.floor.cutting import SpeedBand
from shopfloor.core.set_up.card import set_up
from shopfloor.core.set_up.drive import StationDrive
from shopfloor.core.set_up.materials import MATERIALS, work_material
from shopfloor.core.set_up.question import ChosenTap, Hole, SetUpCard, SetUpQuestion, SetUpWarning, Weight
from shopfloor.core.set_up.speeds import BandEvidence, proven_speed
from shopfloor.core.survival.poisson_rate import rate_per_1000
from shopfloor.core.threads.designations import parse
from shopfloor.core.vocabulary import (
    Chamfer,
    DepthControl,
    HoleMaking,
    IsoGroup,
    Lubricant,
    StationKind,
    Substrate,
    TapStyle,
)
from tests.published.cutting import GOOD_SET_UPS, SECONDS_TO_DEPTH

ARM = StationDrive(StationKind.ELECTRIC_ARM, 25, 500, 53)


def question(thread: str = "3/8-16", material: str = "steel", rpm: float = 300, **hole: Any) -> SetUpQuestion:
    """A sound set-up: 10 mm through, drilled."""
    known: dict[str, Any] = {"depth_mm": 10.0, "is_blind": False} | hole
    return SetUpQuestion(parse(thread), work_material(material), rpm, Hole(**known))


def warned(card: SetUpCard, word: str) -> SetUpWarning | None:
    """The warning that has a word in its heading."""
    return next((warning for warning in card.warnings if word in warning.what), None)


def weight(card: SetUpCard, word: str) -> Weight | None:
    """How heavy that warning is; None where there is none."""
    found = warned(card, word)
    return None if found is None else found.weight


def test_a_sound_set_up_has_only_the_standing_reminder() -> None:
    """Nothing to warn of but what nobody can see from figures."""
    card = set_up(replace(question(), station=ARM))
    assert ["Bench flat, work clamped, head square to it"] == [warning.what for warning in card.warnings]
    assert Weight.REMINDER == card.warnings[0].weight


@pytest.mark.parametrize(("thread", "material", "rpm", "depth_mm", "making"), GOOD_SET_UPS)
def test_set_ups_that_work(thread: str, material: str, rpm: float, depth_mm: float, making: HoleMaking) -> None:
    """Common practice, no source: known good set-ups on a hand-guided arm bring no warning."""
    made = {"making": making, "was_chamfered": True, "was_reamed": True}
    card = set_up(replace(question(thread, material, rpm, depth_mm=depth_mm, **made), station=ARM))
    assert [Weight.REMINDER] == [warning.weight for warning in card.warnings]
    assert card.margin is not None
    assert card.margin > 1


@pytest.mark.parametrize(("thread", "rpm", "depth_in", "seconds"), SECONDS_TO_DEPTH)
def test_seconds(thread: str, rpm: float, depth_in: float, seconds: float) -> None:
    """One pitch a turn, and the same way out."""
    card = set_up(question(thread, rpm=rpm, depth_mm=25.4 * depth_in))
    assert seconds == pytest.approx(card.seconds_per_hole)
    assert 2 * seconds == pytest.approx(card.seconds_in_and_out)


@pytest.mark.parametrize(
    ("material", "is_blind", "style"),
    [
        ("steel", False, TapStyle.SPIRAL_POINT),
        ("steel", True, TapStyle.SPIRAL_FLUTE),
        ("cast iron", True, TapStyle.STRAIGHT_FLUTE),
        ("brass", False, TapStyle.STRAIGHT_FLUTE),
        ("aluminium", True, TapStyle.SPIRAL_FLUTE),
    ],
)
def test_the_style_suits_hole_and_chips(material: str, is_blind: bool, style: TapStyle) -> None:
    """Chips ahead, chips out, or no chips to speak of."""
    card = set_up(question(material=material, is_blind=is_blind))
    assert style == card.style == card.choice.style
    assert card.choice.reason


def test_ductile_materials_may_be_formed() -> None:
    """A forming tap is offered beside, and gets its own larger drill, more torque and no complaint."""
    cut, formed = (
        set_up(replace(question("M8", "aluminium", is_blind=True), tap=ChosenTap(style)))
        for style in (None, TapStyle.FORMING)
    )
    assert cut.choice.may_be_formed
    assert cut.hole_mm < formed.hole_mm
    assert cut.torque.sharp_nm < formed.torque.sharp_nm
    assert warned(formed, "Forming tap") is None


def test_forming_what_cracks() -> None:
    """Cast iron is not formed."""
    card = set_up(replace(question(material="cast iron"), tap=ChosenTap(TapStyle.FORMING)))
    assert Weight.STOP == weight(card, "Forming tap in grey cast iron")


def test_the_handbook_drill_comes_first() -> None:
    """3/8-16 in steel: 5/16, 77 % of thread (Machinery's Handbook)."""
    card = set_up(question())
    assert ("5/16", True) == (card.drills.taken.drill.name, card.drills.taken.is_usual)
    assert 76.98 == pytest.approx(card.thread_percent or 0, abs=0.005)


def test_harder_materials_get_a_larger_drill() -> None:
    """Less thread in stainless, within the limits of the class; the handbook's drill is still shown."""
    steel, stainless = set_up(question("1/2-13")), set_up(question("1/2-13", "stainless"))
    assert steel.hole_mm < stainless.hole_mm
    assert stainless.drills.taken.is_within_limits
    assert "27/64" in [drill.drill.name for drill in stainless.drills.others]
    assert warned(stainless, "More thread") is None


def test_a_percentage_asked_for_is_kept() -> None:
    """The drawing decides, but too much is told."""
    card = set_up(replace(question("M10", "stainless"), percent=83))
    assert 83 == pytest.approx(card.thread_percent or 0, abs=3)
    assert weight(card, "More thread") is not None


@pytest.mark.parametrize(
    ("drilled_mm", "expected"), [(8.1, None), (7.938, None), (7.82, Weight.CAUTION), (7.6, Weight.SERIOUS)]
)
def test_a_hole_drilled_small(drilled_mm: float, expected: Weight | None) -> None:
    """The torque is that of the hole as it is, and the warning names the drill to take."""
    card = set_up(question(drilled_mm=drilled_mm))
    assert drilled_mm == card.hole_mm
    assert expected == weight(card, "More thread")
    found = warned(card, "More thread")
    assert found is None or "5/16" in found.do


def test_speed_too_high() -> None:
    """Above the start range; far above it weighs more; the advice is within it."""
    fast, faster = (set_up(question(material="stainless", rpm=rpm)) for rpm in (400, 900))
    assert (Weight.CAUTION, Weight.SERIOUS) == (weight(fast, "Too fast"), weight(faster, "Too fast"))
    found = warned(fast, "Too fast")
    assert found is not None
    assert found.do == "set 357 rpm or less"
    assert warned(set_up(question(material="stainless", rpm=356)), "Too fast") is None


def test_the_shops_own_speeds_take_precedence() -> None:
    """What the log has proven is no longer too fast; beyond it the warning names the evidence."""
    band = SpeedBand("m/min", 16, 25)
    proven = proven_speed([BandEvidence(band, rate_per_1000(8, 4000), rate_per_1000(1, 4000))])
    quick = replace(question(rpm=800), proven=proven)
    assert warned(set_up(replace(quick, proven=None)), "Too fast") is not None
    assert [Weight.REMINDER] == [warning.weight for warning in set_up(quick).warnings]
    found = warned(set_up(replace(quick, rpm=900)), "Faster than this shop has proven")
    assert found is not None
    assert "8 failures in 4,000 holes" in found.reason


@pytest.mark.parametrize("rpm", [20, 510])
def test_speed_outside_the_station(rpm: float) -> None:
    """Both ends count, behind a reducer too."""
    assert Weight.SERIOUS == weight(set_up(replace(question("#10-32", rpm=rpm), station=ARM)), "outside the station")
    geared = replace(ARM, reducer_ratio=2)
    assert weight(set_up(replace(question(rpm=260), station=geared)), "outside the station") is not None


@pytest.mark.parametrize(
    ("style", "material", "depth_mm", "expected"),
    [
        (TapStyle.SPIRAL_POINT, "steel", 10, Weight.SERIOUS),
        (TapStyle.STRAIGHT_FLUTE, "steel", 10, Weight.SERIOUS),
        (TapStyle.STRAIGHT_FLUTE, "steel", 9, None),
        (TapStyle.STRAIGHT_FLUTE, "cast iron", 20, None),
        (TapStyle.SPIRAL_FLUTE, "steel", 20, None),
        (TapStyle.FORMING, "aluminium", 20, None),
    ],
)
def test_chips_in_blind_holes(style: TapStyle, material: str, depth_mm: float, expected: Weight | None) -> None:
    """Only a tap that cannot clear its chips is warned of, and only in a blind hole."""
    asked = replace(question(material=material, depth_mm=depth_mm, is_blind=True), tap=ChosenTap(style))
    assert expected == weight(set_up(asked), "clear its chips")
    assert warned(set_up(replace(asked, hole=replace(asked.hole, is_blind=False))), "clear its chips") is None


def test_hole_too_shallow() -> None:
    """10 mm of thread, plug chamfer of up to 5 threads and one kept free: 10 + 6 x 1.5875 = 19.5 mm."""
    blind = question(is_blind=True, drill_depth_mm=19.0)
    found = warned(set_up(blind), "too shallow")
    assert found is not None
    assert Weight.STOP == found.weight
    assert "19.5 mm of drilled depth" in found.reason
    assert "drill 0.52 mm deeper, thread no deeper than 9.47 mm" in found.do
    assert warned(set_up(replace(blind, tap=ChosenTap(chamfer=Chamfer.BOTTOMING))), "too shallow") is None
    assert warned(set_up(question(is_blind=True, drill_depth_mm=19.6)), "too shallow") is None


@pytest.mark.parametrize("making", [HoleMaking.LASER, HoleMaking.PLASMA])
@pytest.mark.parametrize(("was_done", "expected"), [(False, Weight.SERIOUS), (None, Weight.CAUTION), (True, None)])
def test_thermal_cuts(making: HoleMaking, was_done: bool | None, expected: Weight | None) -> None:
    """Reamed and chamfered, or warned of; asked where nobody has said."""
    card = set_up(question(making=making, was_reamed=was_done, was_chamfered=was_done))
    assert (expected, expected) == (weight(card, "reamed"), weight(card, "chamfered"))


def test_drilled_holes_need_no_reaming() -> None:
    """The rule is for thermal cuts."""
    card = set_up(question(making=HoleMaking.DRILLED, was_reamed=False, was_chamfered=False))
    assert 1 == len(card.warnings)


def test_station_too_weak() -> None:
    """Too weak for a sharp tap, for a dull one, with little to spare, and with enough."""
    torque = set_up(question()).torque
    given = [0.9 * torque.sharp_nm, 1.5 * torque.sharp_nm, 1.1 * torque.dull_nm, 1.3 * torque.dull_nm]
    cards = [set_up(replace(question(), station=StationDrive(torque_nm=nm))) for nm in given]
    headings = ["station's torque", "too weak for a dull tap", "Little torque"]
    assert [Weight.STOP, Weight.SERIOUS, Weight.CAUTION] == [
        weight(card, word) for card, word in zip(cards, headings, strict=False)
    ]
    assert [0.45, 0.75, 1.1, 1.3] == pytest.approx([card.margin for card in cards])
    assert all(warned(cards[3], word) is None for word in headings)


def test_thread_too_large_by_the_makers_word() -> None:
    """A stated largest thread binds, group by group."""
    station = StationDrive(largest_mm={IsoGroup.P: 8.0, IsoGroup.N: 12.0})
    assert Weight.STOP == weight(set_up(replace(question(), station=station)), "too large")
    aluminium = replace(question(material="aluminium", rpm=600), station=station)
    assert warned(set_up(aluminium), "too large") is None


def test_thread_too_small_for_a_large_arm() -> None:
    """Common practice, no source: 1/4 in is the comfortable lower size for an arm that taps 5/8."""
    arm = StationDrive(largest_mm={IsoGroup.P: 15.875})
    assert warned(set_up(replace(question("1/4-20"), station=arm)), "small for the station") is None
    assert Weight.CAUTION == weight(set_up(replace(question("#10-32"), station=arm)), "small for the station")
    assert warned(set_up(replace(question("1/4-20", "aluminium"), station=ARM)), "small for the station") is None
    small_arm = StationDrive(largest_mm={IsoGroup.P: 6.35})
    assert warned(set_up(replace(question("#10-32"), station=small_arm)), "small for the station") is None


@pytest.mark.parametrize(
    ("control", "holes", "is_blind", "expected"),
    [
        (DepthControl.BY_EYE, 300, False, Weight.CAUTION),
        (DepthControl.BY_EYE, 300, True, Weight.SERIOUS),
        (DepthControl.BY_EYE, 299, True, None),
        (DepthControl.BY_EYE, None, True, None),
        (DepthControl.DEPTH_STOP, 5000, True, None),
    ],
)
def test_depth_by_eye(control: DepthControl, holes: int | None, is_blind: bool, expected: Weight | None) -> None:
    """Common practice, no source: a run of 300 is where depth control pays."""
    asked = replace(question(is_blind=is_blind), depth_control=control, holes=holes)
    assert expected == weight(set_up(asked), "Depth by eye")


@pytest.mark.parametrize(("thread", "is_small"), [("#10-32", True), ("M6", True), ("1/4-20", False), ("M8", False)])
def test_small_taps_forgive_nothing(thread: str, is_small: bool) -> None:
    """Below 1/4 in."""
    assert is_small == (weight(set_up(question(thread)), "Small tap") is Weight.CAUTION)


def test_dry() -> None:
    """Cast iron may be; steel not."""
    assert Weight.SERIOUS == weight(set_up(replace(question(), lubricant=Lubricant.NONE)), "No lubricant")
    iron = replace(question(material="cast iron"), lubricant=Lubricant.NONE)
    assert warned(set_up(iron), "No lubricant") is None


def test_no_clutch_window() -> None:
    """Said so, with what to do."""
    asked = replace(question("M1.6", "hardened steel", 200, depth_mm=3), tap=ChosenTap(TapStyle.SPIRAL_FLUTE))
    assert not set_up(asked).clutch.is_open
    assert Weight.STOP == weight(set_up(asked), "No safe clutch setting")


@pytest.mark.parametrize(("thread", "word"), [("1/8-27 NPT", "Taper pipe thread"), ("G 1/4", "Pipe thread")])
def test_pipe_threads_are_rougher_guesses(thread: str, word: str) -> None:
    """Their figures come with a warning."""
    assert Weight.CAUTION == weight(set_up(question(thread)), word)


def test_every_figure_has_a_source() -> None:
    """Guide values are called that; nothing is named that has none."""
    sources = set_up(question()).sources
    assert all(sources[key].startswith("guide value") for key in ("torque", "dull_torque", "clutch"))
    assert all(sources.values())


def test_assumed_forces_are_said_to_be() -> None:
    """Titanium has no published force for this formula."""
    assert "assumed" in set_up(question(material="titanium")).sources["torque"]


threads = st.sampled_from(["#4-40", "#10-32", "1/4-20", "3/8-16", "5/8-11", "1-8", "M3", "M8", "M12x1.25", "M24"])
materials = st.sampled_from([material.name for material in MATERIALS])
styles = st.sampled_from([None, *TapStyle])
makings = st.sampled_from([None, *HoleMaking])


@given(threads, materials, st.floats(1, 3000), st.floats(0.2, 4), st.booleans(), styles, makings)
def test_any_sensible_question_has_an_answer(
    thread: str,
    material: str,
    rpm: float,
    diameters: float,
    is_blind: bool,
    style: TapStyle | None,
    making: HoleMaking | None,
) -> None:
    """Figures are finite, warnings are whole and in the order of their weight."""
    depth_mm = diameters * parse(thread).major_mm
    asked = question(thread, material, rpm, depth_mm=depth_mm, is_blind=is_blind, making=making)
    card = set_up(replace(asked, tap=ChosenTap(style, None, Substrate.POWDER, True), station=ARM))
    figures = [card.torque.dull_nm, card.power_kw, card.clutch.low_nm, card.seconds_per_hole, card.margin or math.nan]
    assert all(math.isfinite(figure) and figure > 0 for figure in figures)
    order = [list(Weight).index(warning.weight) for warning in card.warnings]
    assert sorted(order) == order
    assert all(warning.what and warning.reason and warning.do for warning in card.warnings)


@given(threads, st.floats(20, 400), st.floats(1.05, 3))
def test_faster_is_quicker_and_needs_more_power(thread: str, rpm: float, more: float) -> None:
    """Torque stays, time falls, speed and power rise."""
    slow, fast = (set_up(question(thread, rpm=speed)) for speed in (rpm, more * rpm))
    assert slow.torque == fast.torque
    assert slow.seconds_per_hole > fast.seconds_per_hole
    assert slow.power_kw < fast.power_kw
    assert slow.surface_speed_m_min < fast.surface_speed_m_min


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"rpm": 0}, "rpm: 0 is out of range; give a number above 0"),
        ({"rpm": math.nan}, "rpm: nan is out of range"),
        ({"hole": Hole(-1, False)}, "depth: -1 is out of range"),
        ({"hole": Hole(500, False)}, "depth: 500 mm is more than 20 diameters; give the depth of full thread"),
        ({"hole": Hole(10, False, drilled_mm=9.6)}, "drilled: a hole of 9.6 mm is no smaller than the thread of 9.525"),
        ({"hole": Hole(10, True, drill_depth_mm=0)}, "drill depth: 0 is out of range"),
        ({"percent": 20}, "percent: 20 % is out of range; give 40 to 100"),
        ({"holes": 0}, "holes: 0 is out of range"),
    ],
)
def test_questions_that_are_none(changes: dict[str, Any], message: str) -> None:
    """Each wrong value is named, with what would be right."""
    with pytest.raises(InputError) as told:
        replace(question(), **changes)
    assert message in str(told.value)


def test_all_that_is_wrong_is_told_at_once() -> None:
    """Nobody wants to be corrected three times."""
    with pytest.raises(InputError) as told:
        replace(question(), rpm=-1, percent=7, hole=Hole(0, False))
    assert ["rpm", "depth", "percent"] == [problem.field for problem in told.value.problems]


def test_a_station_that_cannot_run_slower_is_changed() -> None:
    """Who cannot turn the speed down is not told to."""
    fixed = StationDrive(StationKind.AIR_ARM, 900, 900)
    slow = warned(set_up(replace(question(rpm=900), station=ARM)), "Too fast")
    told = warned(set_up(replace(question(rpm=900), station=fixed)), "Too fast")
    assert slow is not None
    assert told is not None
    assert slow.do.endswith("rpm or less")
    assert "take a station that runs slower" == told.do
