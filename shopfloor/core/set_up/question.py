"""Question and answer of the set-up card: what is asked before a batch, and what the card shows."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from shopfloor.core.errors import InputError, Problem
from shopfloor.core.phrases import phrase, rounded
from shopfloor.core.set_up.clutch import ClutchWindow
from shopfloor.core.set_up.drive import StationDrive
from shopfloor.core.set_up.materials import WorkMaterial
from shopfloor.core.set_up.speeds import AdvisedSpeed, NotProven, ProvenSpeed, StartRange, advised_speed
from shopfloor.core.set_up.tap_choice import DrillChoice, StyleChoice
from shopfloor.core.set_up.torque import Torque
from shopfloor.core.threads.depth import HoleNeed
from shopfloor.core.threads.series import Designation
from shopfloor.core.vocabulary import Chamfer, DepthControl, HoleMaking, Lubricant, Substrate, TapStyle, Word

_MOST_DIAMETERS = 20
_LEAST_PERCENT, _MOST_PERCENT = 40, 100


class Weight(Word):
    """How serious a warning is, the most serious first."""

    STOP = "stop", "Do not start like this"
    SERIOUS = "serious", "Likely to break the tap"
    CAUTION = "caution", "Costs tap life"
    REMINDER = "reminder", "Check"

    @property
    def is_heavy(self) -> bool:
        """Whether it must be seen before a batch, even without opening the card."""
        return self in (Weight.STOP, Weight.SERIOUS)


@dataclass(frozen=True)
class SetUpWarning:
    """One thing that could go wrong with this set-up.

    Attributes
    ----------
    weight    how serious it is
    what      what could go wrong
    reason    why
    do        what to do about it
    """

    weight: Weight
    what: str
    reason: str
    do: str


@dataclass(frozen=True)
class ChosenTap:
    """The tap to be used; None: the card chooses."""

    style: TapStyle | None = None
    chamfer: Chamfer | None = None
    substrate: Substrate = Substrate.HSS
    is_coated: bool = False


@dataclass(frozen=True)
class Hole:
    """The hole to be tapped, lengths in mm. None: not known."""

    depth_mm: float
    """Of full thread."""
    is_blind: bool
    drilled_mm: float | None = None
    """Diameter before tapping."""
    drill_depth_mm: float | None = None
    """Depth of the full diameter of a blind hole."""
    making: HoleMaking | None = None
    was_chamfered: bool | None = None
    was_reamed: bool | None = None


@dataclass(frozen=True)
class SetUpQuestion:
    """Everything known before a batch. Only thread, material, speed and hole are required."""

    thread: Designation
    material: WorkMaterial
    rpm: float
    """Of the tap."""
    hole: Hole
    tap: ChosenTap = ChosenTap()
    station: StationDrive = field(default_factory=StationDrive)
    depth_control: DepthControl | None = None
    lubricant: Lubricant | None = None
    holes: int | None = None
    """Planned for the run."""
    percent: float | None = None
    """Percentage of thread that the drawing asks for."""
    proven: ProvenSpeed | NotProven | None = None
    """What the shop's own log says of speeds."""

    def __post_init__(self) -> None:
        """Refuse an impossible set-up, naming everything that is wrong."""
        if problems := [*self._not_positive(), *self._out_of_range()]:
            raise InputError(problems)

    def _not_positive(self) -> list[Problem]:
        hole = self.hole
        values = {
            "rpm": self.rpm,
            "depth": hole.depth_mm,
            "drilled": hole.drilled_mm,
            "drill_depth": hole.drill_depth_mm,
            "holes": self.holes,
        }
        return [
            Problem(field, phrase("{value} is out of range", value=rounded(value)), "give a number above 0")
            for field, value in values.items()
            if value is not None and not (value > 0 and math.isfinite(value))
        ]

    def _out_of_range(self) -> list[Problem]:
        major, hole = self.thread.major_mm, self.hole
        problems = []
        if hole.depth_mm > _MOST_DIAMETERS * major:
            what = phrase(
                "{depth_mm} mm is more than {most_diameters} diameters",
                depth_mm=rounded(hole.depth_mm),
                most_diameters=_MOST_DIAMETERS,
            )
            problems.append(Problem("depth", what, "give the depth of full thread, with its unit: 18mm or 0.7in"))
        if hole.drilled_mm is not None and hole.drilled_mm >= major:
            what = phrase(
                "a hole of {drilled_mm} mm is no smaller than the thread of {major} mm",
                drilled_mm=rounded(hole.drilled_mm),
                major=rounded(major, 4),
            )
            problems.append(Problem("drilled", what, "give the diameter of the hole before tapping"))
        if self.percent is not None and not _LEAST_PERCENT <= self.percent <= _MOST_PERCENT:
            what, remedy = (
                phrase("{percent} % is out of range", percent=rounded(self.percent)),
                phrase(
                    "give {least_percent} to {most_percent}", least_percent=_LEAST_PERCENT, most_percent=_MOST_PERCENT
                ),
            )
            problems.append(Problem("percent", what, remedy))
        return problems


@dataclass(frozen=True)
class SetUpCard:
    """What the set-up card shows. Torques, powers, speeds and times are guide values; `sources` names where they come
    from.
    """

    question: SetUpQuestion
    choice: StyleChoice
    """The style that suits material and hole."""
    style: TapStyle
    """The style that the figures are for: that of the question, else the suitable one."""
    chamfer: Chamfer
    drills: DrillChoice
    hole_mm: float
    """Diameter of the hole that torque is reckoned with: as drilled, else the drill's."""
    thread_percent: float | None
    """Percentage of thread in that hole (depth 0.6495 P a side; of a forming tap by its own formula; None for NPT)."""
    mouth_mm: float
    """Diameter to chamfer the hole's mouth to."""
    need: HoleNeed | None
    """What a blind hole needs; None for a through hole."""
    surface_speed_m_min: float
    start: StartRange
    revolutions: float
    seconds_per_hole: float
    """Into the hole, to depth."""
    seconds_in_and_out: float
    """And out again at the same speed."""
    torque: Torque
    power_kw: float
    """At the sharp tap's torque."""
    dull_power_kw: float
    clutch: ClutchWindow
    margin: float | None
    """The station's torque at the tap over the dull tap's; None where the station's is not known."""
    largest_mm: float | None
    """Largest major diameter of the station in this material."""
    lubricant: str
    warnings: tuple[SetUpWarning, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
    """Where each kind of figure comes from."""

    @property
    def heavy(self) -> tuple[SetUpWarning, ...]:
        """The warnings that must be seen before a batch, the most serious first."""
        return tuple(warning for warning in self.warnings if warning.weight.is_heavy)

    @property
    def advised(self) -> AdvisedSpeed:
        """The speeds to choose from: proven by the shop's own log, else the published start range."""
        return advised_speed(self.question.proven, self.start)
