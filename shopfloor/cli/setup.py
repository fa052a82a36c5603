"""`shopfloor setup`: the set-up card of one thread in one hole, for people and as JSON."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

import click

from shopfloor.cli.numbers import NUMBER, finite, print_json, short
from shopfloor.cli.terms import LENGTH, SPEED_RANGE, Term
from shopfloor.core.errors import InputError, Problem
from shopfloor.core.phrases import rounded
from shopfloor.core.vocabulary import Chamfer, DepthControl, HoleMaking, Lubricant, StationKind, Substrate, TapStyle

if TYPE_CHECKING:
    from shopfloor.core.set_up.drive import StationDrive
    from shopfloor.core.set_up.question import SetUpCard, SetUpQuestion, SetUpWarning

AnyFunction = TypeVar("AnyFunction", bound=Callable[..., Any])

KEYS = {
    "thread": "the thread as standards write it",
    "material": "the kind of material used in the calculation",
    "iso_group": "its ISO 513 group",
    "rpm": "speed of the tap",
    "depth_mm": "depth of full thread",
    "hole": "blind or through",
    "tap_style": "style that the figures are for: the given one, else the recommended one",
    "tap_style_recommended": "recommended style for material and hole",
    "tap_style_reason": "why",
    "may_be_formed": "whether the material can be formed as well",
    "chamfer": "chamfer of the tap",
    "substrate": "what the tap is made of",
    "tap_drill_name": "the drill to take, as the shop calls it",
    "tap_drill_mm": "its diameter",
    "thread_percent": "percentage of thread in the hole (100 %: 0.6495 P deep a side); null for a taper thread",
    "wanted_percent": "recommended percentage of thread for material and depth",
    "wanted_percent_reason": "why",
    "other_drills": "list of {name, mm, percent}: the nearest",
    "hole_mm": "hole diameter used in the calculation: as drilled, else the drill's",
    "hole_mouth_mm": "diameter to chamfer the mouth to",
    "drill_depth_needed_mm": "depth at full diameter that a blind hole needs; null for a through hole",
    "surface_speed_m_min": "surface speed of the major diameter",
    "surface_speed_ft_min": "the same in ft/min",
    "start_speed_m_min": "[low, high] to start with; not a limit",
    "revolutions": "turns to depth",
    "seconds_per_hole": "time into the hole, to depth",
    "seconds_in_and_out": "and out again at the same speed",
    "torque_nm": "torque of a sharp tap (guide value)",
    "torque_dull_nm": "torque of a dull one (guide value)",
    "power_kw": "power at torque_nm",
    "power_dull_kw": "power at torque_dull_nm",
    "clutch_nm": "[low, high] between which to set the clutch (guide values)",
    "clutch_is_open": "whether there is such a setting (low is below high)",
    "shear_nm": "torque that shears the tap (guide value)",
    "margin": "torque of the station at the tap over torque_dull_nm; null if the station's is not given",
    "station_largest_mm": "largest major diameter of the station in this material; null if not given",
    "lubricant": "advice, common practice",
    "warnings": "list of {weight, what, reason, do}; weight: stop, serious, caution, reminder; the heaviest first",
    "sources": "where each kind of figure comes from",
}
"""Keys of the JSON object. Numbers are finite or null."""


_OPTIONS = (
    click.option("--thread", required=True, help="Such as 3/8-16, #10-32 UNF or M8x1."),
    click.option("--material", required=True, help="ISO 513 letter, or a word: steel, stainless, aluminium, brass ..."),
    click.option("--hardness", type=NUMBER, help="Brinell hardness of the material."),
    click.option("--rpm", type=NUMBER, required=True, help="Speed of the tap."),
    click.option("--depth", type=LENGTH, required=True, help="Depth of full thread in mm, or with a unit: 0.7in."),
    click.option("--hole", required=True, help="blind or through."),
    click.option("--drilled", type=LENGTH, help="Diameter of the hole as it is drilled, in mm or with a unit."),
    click.option("--drill-depth", type=LENGTH, help="Depth of the drilled hole at full diameter."),
    click.option("--hole-making", type=Term(HoleMaking), help="drilled, punched, cast, laser cut, plasma cut ..."),
    click.option("--chamfered/--not-chamfered", default=None, help="Whether the hole's mouth is chamfered."),
    click.option("--reamed/--not-reamed", default=None, help="Whether the hole is reamed."),
    click.option("--tap-style", type=Term(TapStyle), help="spiral point, spiral flute, straight flute or forming."),
    click.option("--chamfer", type=Term(Chamfer), help="taper, plug or bottoming.  [default: plug]"),
    click.option("--substrate", type=Term(Substrate), help="HSS, HSS-E, HSS-PM or carbide.  [default: HSS]"),
    click.option("--coated", is_flag=True, help="The tap is coated."),
    click.option("--percent", type=NUMBER, help="Percentage of thread that the drawing asks for."),
    click.option("--station", type=Term(StationKind), help="electric arm, air arm, drill press, machining centre ..."),
    click.option("--station-rpm", type=SPEED_RANGE, help="Its speeds: 25-500, or one fixed speed."),
    click.option("--station-torque", type=NUMBER, help="Its torque at the spindle, N m."),
    click.option("--reducer", type=NUMBER, default=1.0, help="Ratio of a reducer between spindle and tap."),
    click.option("--depth-control", type=Term(DepthControl), help="depth stop, clutch at bottom or by eye."),
    click.option("--lubricant", type=Term(Lubricant), help="none, mist, brushed or dipped, or flood."),
    click.option("--holes", type=NUMBER, help="Holes planned for the batch."),
    click.option("--json", "as_json", is_flag=True, help="Print JSON."),
)


def _options(function: AnyFunction) -> AnyFunction:
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


_HELP_ON_KEYS = "\b\nKeys of the JSON object:\n" + "\n".join(f"{key}: {what}" for key, what in KEYS.items())


@click.command("setup", epilog=_HELP_ON_KEYS)
@_options
def command(as_json: bool, **given: Any) -> None:
    """What keeps this tap alive in this hole: drill, speed, torque, clutch, and what could go wrong.

    Torques, powers and the clutch window are guide values: they replace neither the machine maker's limits nor
    qualified judgement.
    """
    from shopfloor.core.set_up.card import set_up

    try:
        card = set_up(_question(given))
    except InputError as error:
        raise InputError([_of_option(problem) for problem in error.problems]) from None
    if as_json:
        print_json(_json(card))
    else:
        click.echo("\n".join(_lines(card)))


_OPTION_OF = {
    "class": "thread", "pitch": "thread", "tap style": "tap-style", "drill": "drilled",
    "station_rpm_low": "station-rpm",
    "station_rpm_high": "station-rpm", "station_torque_nm": "station-torque", "station_reducer_ratio": "reducer",
}  # fmt: skip


def _of_option(problem: Problem) -> Problem:
    """The problem named for the option that it comes from."""
    return replace(problem, field=f"--{_OPTION_OF.get(problem.field, problem.field.replace('_', '-'))}")


def _question(given: dict[str, Any]) -> SetUpQuestion:
    from shopfloor.core.set_up.materials import work_material
    from shopfloor.core.set_up.question import ChosenTap, Hole, SetUpQuestion
    from shopfloor.core.threads.designations import parse

    hole = Hole(
        depth_mm=given["depth"],
        is_blind=_is_blind(given["hole"]),
        drilled_mm=given["drilled"],
        drill_depth_mm=given["drill_depth"],
        making=given["hole_making"],
        was_chamfered=given["chamfered"],
        was_reamed=given["reamed"],
    )
    return SetUpQuestion(
        thread=parse(given["thread"]),
        material=work_material(given["material"], given["hardness"]),
        rpm=given["rpm"],
        hole=hole,
        tap=ChosenTap(given["tap_style"], given["chamfer"], given["substrate"] or Substrate.HSS, given["coated"]),
        station=_station(given),
        depth_control=given["depth_control"],
        lubricant=given["lubricant"],
        holes=_whole(given["holes"]),
        percent=given["percent"],
    )


def _is_blind(text: str) -> bool:
    if (word := text.strip().casefold()) not in ("blind", "through"):
        raise InputError.of("hole", f"'{text}' is not known", "write blind or through")
    return word == "blind"


def _whole(number: float | None) -> int | None:
    if number is not None and not number.is_integer():
        raise InputError.of("holes", f"{rounded(number)} is not a count", "give 1, 2, 3 ...")
    return None if number is None else int(number)


def _station(given: dict[str, Any]) -> StationDrive:
    from shopfloor.core.set_up.drive import StationDrive

    low, high = given["station_rpm"] or (None, None)
    return StationDrive(given["station"], low, high, given["station_torque"], given["reducer"])


def _json(card: SetUpCard) -> dict[str, object]:
    """Values in the order of `KEYS`."""
    return {key: _plain(value) for key, value in zip(KEYS, _values(card), strict=True)}


def _plain(value: object) -> object:
    if isinstance(value, float):
        return finite(value)
    return [_plain(part) for part in value] if isinstance(value, tuple) else value


def _values(card: SetUpCard) -> Iterator[object]:
    from shopfloor.core.floor.cutting import ft_min_from_m_min

    question, drills, clutch = card.question, card.drills, card.clutch
    yield from (question.thread.text, question.material.name, question.material.group.value, question.rpm)
    yield from (question.hole.depth_mm, _hole(card))
    yield from (card.style.value, card.choice.style.value, card.choice.reason, card.choice.may_be_formed)
    yield from (card.chamfer.value, question.tap.substrate.value)
    yield from (drills.taken.drill.name, drills.taken.drill.diameter_mm, card.thread_percent)
    yield from (drills.wanted.percent, drills.wanted.reason)
    yield [{"name": d.drill.name, "mm": d.drill.diameter_mm, "percent": d.percent} for d in drills.others]
    yield from (card.hole_mm, card.mouth_mm, card.need and card.need.drill_depth_mm)
    yield from (card.surface_speed_m_min, ft_min_from_m_min(card.surface_speed_m_min))
    yield (card.start.low_m_min, card.start.high_m_min)
    yield from (card.revolutions, card.seconds_per_hole, card.seconds_in_and_out)
    yield from (card.torque.sharp_nm, card.torque.dull_nm, card.power_kw, card.dull_power_kw)
    yield from ((clutch.low_nm, clutch.high_nm), clutch.is_open, clutch.shear_nm)
    yield from (card.margin, card.largest_mm, card.lubricant)
    yield [{"weight": w.weight.value, "what": w.what, "reason": w.reason, "do": w.do} for w in card.warnings]
    yield dict(card.sources)


def _hole(card: SetUpCard) -> str:
    return "blind" if card.question.hole.is_blind else "through"


def _lines(card: SetUpCard) -> Iterator[str]:
    """The card for people."""
    question, taken = card.question, card.drills.taken
    percent = "" if taken.percent is None else f", {taken.percent:.0f} % of thread"
    hole = f"{_hole(card)} hole, {rounded(question.hole.depth_mm, 4)} mm of full thread"
    yield f"{question.thread.text} in {question.material.name}, {hole}"
    advised = "" if card.style is card.choice.style else f"; recommended: {card.choice.style.label.lower()}"
    yield f"Tap           {card.style.label}, {card.chamfer.label.lower()} chamfer{advised} ({card.choice.reason})"
    diameter = rounded(taken.drill.diameter_mm, 4)
    yield f"Drill         {taken.drill.name} ({diameter} mm{percent}); {card.drills.wanted.reason}"
    yield f"Hole mouth    chamfer to {rounded(card.mouth_mm, 3)} mm"
    if card.need is not None:
        yield f"Drill depth   at least {rounded(card.need.drill_depth_mm, 3)} mm at full diameter"
    yield from _turning(card)
    yield from _forces(card)
    yield f"Lubricant     {card.lubricant}"
    for warning in card.warnings:
        yield from _warned(warning)


def _turning(card: SetUpCard) -> Iterator[str]:
    start = f"start range {rounded(card.start.low_m_min, 3)} to {rounded(card.start.high_m_min, 3)} m/min, not a limit"
    yield f"Speed         {rounded(card.question.rpm)} rpm = {rounded(card.surface_speed_m_min, 3)} m/min ({start})"
    turns = f"{rounded(card.revolutions, 3)} turns, {rounded(card.seconds_per_hole, 2)} s to depth"
    yield f"Time          {turns}, {rounded(card.seconds_in_and_out, 2)} s in and out"


def _forces(card: SetUpCard) -> Iterator[str]:
    torque, clutch = card.torque, card.clutch
    yield f"Torque        about {short(torque.sharp_nm)} N m sharp, {short(torque.dull_nm)} N m dull (guide values)"
    window = f"{short(clutch.low_nm)} to {short(clutch.high_nm)} N m" if clutch.is_open else "no safe setting"
    yield f"Clutch        {window}; the tap shears at about {short(clutch.shear_nm)} N m (guide values)"
    if card.margin is not None and math.isfinite(card.margin):
        yield f"Station       {short(card.margin)} times the torque of a dull tap"


def _warned(warning: SetUpWarning) -> Iterator[str]:
    yield f"{warning.weight.value.upper()}: {warning.what}. {warning.reason[:1].upper()}{warning.reason[1:]}."
    yield f"    {warning.do[:1].upper()}{warning.do[1:]}."
