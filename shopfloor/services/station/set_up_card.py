"""The set-up card of a job at a station, from what the shop has on record."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopfloor.core.errors import InputError, NotFound, Problem
from shopfloor.core.floor.cutting import M_MIN, SpeedBand
from shopfloor.core.phrases import phrase
from shopfloor.core.set_up.card import set_up
from shopfloor.core.set_up.drive import StationDrive as Drive
from shopfloor.core.set_up.materials import WorkMaterial, material_of_group, work_material
from shopfloor.core.set_up.question import ChosenTap, Hole, SetUpCard, SetUpQuestion, SetUpWarning
from shopfloor.core.set_up.speeds import (
    BandEvidence,
    NotProven,
    ProvenSpeed,
    StartRange,
    advised_speed,
    proven_speed,
    start_range,
)
from shopfloor.core.set_up.tap_choice import suitable_style
from shopfloor.core.survival.poisson_rate import rate_per_1000
from shopfloor.core.threads import find_thread, same_thread
from shopfloor.core.threads.series import Designation
from shopfloor.core.vocabulary import HoleMaking, Substrate, TapStyle
from shopfloor.services.catalogue.threads import standard_thread
from shopfloor.services.record.codes import find_in
from shopfloor.services.record.work import Work
from shopfloor.services.station.choices import JobChoice, StationChoice, job_choice, job_row, station_row
from shopfloor.services.station.page import AtStation, OtherTap, TapHere, at_station
from shopfloor.store import Job, Material, Station, TapType
from shopfloor.store.queries.output import BandTally, band_tallies

Key = TypeVar("Key")
Found = TypeVar("Found")

_UNCOATED = ("", "none", "bright", "uncoated", "plain")


@dataclass(frozen=True)
class StationCard:
    """The card of a job at a station, with the tap that is in it.

    `card` None: something required is not on record, and `lacking` says what. `other_tap` is in the station but
    does not cut the job's thread. `is_speed_known`: the speed is the last one used or the planned one, else the middle
    of the advised range.
    """

    station: StationChoice
    job: JobChoice
    tap: TapHere | None
    card: SetUpCard | None
    lacking: tuple[Problem, ...] = ()
    other_tap: OtherTap | None = None
    is_speed_known: bool = True


def card_at(work: Work, station: str, job: str) -> StationCard:
    """The set-up card of an open job at a station, for the tap that is in the station.

    Raises
    ------
    NotFound    no such station, no such open job
    """
    page = at_station(work, station, None, job)
    return _without_thread(work, page.station, job) if page.job is None else _card_of(work, page, page.job)


def heavy_warnings(work: Work, page: AtStation) -> tuple[SetUpWarning, ...]:
    """Warnings of the set-up card that must also be seen on the station page, most serious first.

    None if no job is chosen, or the card lacks something.
    """
    card = _card_of(work, page, page.job).card if page.job else None
    return card.heavy if card else ()


def _card_of(work: Work, page: AtStation, job: JobChoice) -> StationCard:
    try:
        with work.read() as session:
            question = _question(work, session, page, job_row(session, job.code))
        card: SetUpCard | None = set_up(question)
        lacking: tuple[Problem, ...] = ()
    except InputError as error:
        card, lacking = None, error.problems
    is_known = page.rpm is not None
    return StationCard(page.station, job, page.tap, card, lacking, page.other_tap, is_known)


def _without_thread(work: Work, station: StationChoice, code: str) -> StationCard:
    """A job without a thread cannot be worked on yet; one that is closed has no card."""
    with work.read() as session:
        job = job_row(session, code)
        if not job.is_open:
            raise NotFound(f"job {code} is closed")
        lacking = Problem("thread", "it is not on record", "complete the job: thread")
        return StationCard(station, job_choice(job), None, None, (lacking,))


def _question(work: Work, session: Session, page: AtStation, job: Job) -> SetUpQuestion:
    problems = list(_unsaid(job))
    thread = _or_problem(problems, standard_thread, job.thread or "")
    material = _or_problem(problems, _material, job.material)
    if thread is None or material is None or problems:
        raise InputError(problems)
    kind = find_in(session, TapType, page.tap.tap_type) if page.tap else None
    tap = ChosenTap() if kind is None else _tap(kind)
    style = tap.style or suitable_style(material, bool(job.is_blind)).style
    proven = _proven(session, work.settings.level, job, style)
    return SetUpQuestion(
        thread=thread,
        material=material,
        rpm=page.rpm or _middle_rpm(page.station, thread, start_range(material, tap.substrate), proven),
        hole=_hole(job),
        tap=tap,
        station=_drive(station_row(session, page.station.code)),
        depth_control=page.habit.depth_control,
        lubricant=page.habit.lubricant,
        holes=_planned_holes(job, page),
        proven=proven,
    )


def _unsaid(job: Job) -> Iterator[Problem]:
    if job.depth_mm is None:
        yield Problem("depth", "it is not on record", "complete the job: depth of thread")
    if job.is_blind is None:
        yield Problem("hole", "nobody has said whether it is blind", "complete the job: blind or through")


def _or_problem(problems: list[Problem], look_up: Callable[[Key], Found], key: Key) -> Found | None:
    """The value for the key; if there is none, the problem is noted."""
    try:
        return look_up(key)
    except InputError as error:
        problems += error.problems
        return None


def _material(row: Material) -> WorkMaterial:
    """The kind of material by its name, unless that contradicts its group; else the group's typical one."""
    try:
        named = work_material(row.name, row.hardness_hb)
    except InputError:
        named = None
    if named is not None and row.iso_group in (None, named.group):
        return named
    if row.iso_group is None:
        raise InputError.of(
            "material", phrase("the group of {row} is not on record", row=row.name), "complete the material: ISO group"
        )
    return material_of_group(row.iso_group, row.hardness_hb)


def _tap(kind: TapType) -> ChosenTap:
    is_coated = kind.coating is not None and kind.coating.strip().casefold() not in _UNCOATED
    return ChosenTap(kind.style, kind.chamfer, kind.substrate or Substrate.HSS, is_coated)


def _hole(job: Job) -> Hole:
    return Hole(
        depth_mm=job.depth_mm or 0,
        is_blind=bool(job.is_blind),
        drilled_mm=job.drilled_mm,
        drill_depth_mm=job.drill_depth_mm,
        making=job.hole_making,
        was_chamfered=job.is_chamfered,
        was_reamed=True if job.hole_making is HoleMaking.REAMED else job.is_reamed,
    )


def _drive(row: Station) -> Drive:
    stated = {group: find_thread(text) for group, text in row.largest_threads().items()}
    largest = {group: thread.major_mm for group, thread in stated.items() if thread is not None}
    return Drive(row.kind, row.rpm_min, row.rpm_max, row.torque_nm, row.reducer_ratio or 1.0, largest)


def _planned_holes(job: Job, page: AtStation) -> int | None:
    if job.holes_per_part and job.planned_quantity:
        return job.holes_per_part * job.planned_quantity
    return page.portion.holes if page.portion else None


def _proven(session: Session, level: float, job: Job, style: TapStyle) -> ProvenSpeed | NotProven:
    """What the log says about taps of this thread and style in this material."""
    kinds = session.scalars(select(TapType).where(TapType.style == style))
    alike = [kind.id for kind in kinds if same_thread(kind.thread, job.thread)]
    evidence = [_evidence(tally, level) for tally in band_tallies(session, alike, job.material_id) if tally.holes]
    return proven_speed([seen for seen in evidence if seen.band.unit == M_MIN])


def _evidence(tally: BandTally, level: float) -> BandEvidence:
    failures = rate_per_1000(tally.breaks + tally.worn, tally.holes, level)
    return BandEvidence(SpeedBand.parse(tally.band), failures, rate_per_1000(tally.breaks, tally.holes, level))


def _middle_rpm(
    station: StationChoice, thread: Designation, start: StartRange, proven: ProvenSpeed | NotProven
) -> float:
    """A starting speed if none was used or planned, within the station's range."""
    low, high = advised_speed(proven, start).rpm(thread.major_mm)
    return station.clamped(round((low + high) / 2)) or (low + high) / 2
