"""The jobs of Ottermere Works: what is tapped, where, how fast, in which part of the log, and what is still planned."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from seed.shop import (
    AIR,
    ALLOY,
    ALUMINIUM,
    ARM_1,
    ARM_2,
    BRASS,
    CAST_IRON,
    CENTRE,
    FREE_CUTTING,
    PRESS,
    STAINLESS,
    STRUCTURAL,
    WRENCH,
    tap_types_for,
)
from shopfloor.core.threads.depth import hole_need
from shopfloor.core.threads.designations import parse
from shopfloor.core.threads.drills import tap_drills
from shopfloor.core.vocabulary import Chamfer, DepthControl, HoleMaking, Lubricant, TapStyle

POINT, FLUTE, STRAIGHT, FORMING = (
    TapStyle.SPIRAL_POINT,
    TapStyle.SPIRAL_FLUTE,
    TapStyle.STRAIGHT_FLUTE,
    TapStyle.FORMING,
)
DRILLED, PUNCHED, LASER, CAST, REAMED = (
    HoleMaking.DRILLED,
    HoleMaking.PUNCHED,
    HoleMaking.LASER,
    HoleMaking.CAST,
    HoleMaking.REAMED,
)
STOP, CLUTCH, EYE = DepthControl.DEPTH_STOP, DepthControl.CLUTCH, DepthControl.BY_EYE
BRUSHED, MIST, FLOOD, DRY = Lubricant.BRUSHED, Lubricant.MIST, Lubricant.FLOOD, Lubricant.NONE

_LEFT_SHARP, _REAMED_AFTER_CUTTING = ("J-1003",), ("J-1030",)
"""Jobs with holes that are not chamfered; jobs with thermally cut holes that are reamed."""

_TOO_SHALLOW_MM = {"J-1033": 26.0}
"""A blind hole without room for the tap's chamfer, which the set-up card must point out."""


@dataclass(frozen=True)
class Place:
    """A station that runs a job, and its speed."""

    station: str
    rpm: int


@dataclass(frozen=True)
class JobPlan:
    """A job as the simulator runs it. `starts` and `ends` are shares of the log; an end after 1 is still open."""

    code: str
    part: str
    thread: str
    style: TapStyle
    material: str
    hole_making: HoleMaking
    depth_mm: float
    depth_control: DepthControl
    lubricant: Lubricant
    holes_per_part: int
    places: tuple[Place, ...]
    starts: float = 0.0
    ends: float = 2.0
    weight: float = 1.0
    parts_to_come: int = 0
    due_in_workdays: int = 0
    changes_tap_at: int | None = None
    """Holes after which the tap is changed on purpose, for parts too expensive to risk."""

    @property
    def is_blind(self) -> bool:
        """Spiral flutes, which lift chips out, and forming taps, which make none, are kept for blind holes here."""
        return self.style in (FLUTE, FORMING)

    @property
    def drilled_mm(self) -> float:
        """The drill that a handbook recommends first."""
        return tap_drills(parse(self.thread), forming=self.style is FORMING)[0].drill.diameter_mm

    @property
    def drill_depth_mm(self) -> float | None:
        """How deep a blind hole is drilled: to the next whole millimetre that leaves room for a bottoming tap."""
        if not self.is_blind:
            return None
        need = hole_need(self.depth_mm, parse(self.thread).pitch_mm, Chamfer.BOTTOMING, self.drilled_mm)
        return _TOO_SHALLOW_MM.get(self.code, float(ceil(need.drill_depth_mm)))

    @property
    def is_chamfered(self) -> bool:
        """Whether the holes' mouths are chamfered."""
        return self.code not in _LEFT_SHARP

    @property
    def is_reamed(self) -> bool:
        """Whether the holes are reamed before tapping."""
        return self.hole_making is REAMED or self.code in _REAMED_AFTER_CUTTING

    @property
    def is_open(self) -> bool:
        """Whether parts are still to come."""
        return self.ends > 1

    @property
    def tap_types(self) -> tuple[str, ...]:
        """The kinds of tap that may cut this job's thread."""
        return tap_types_for(self.thread, self.style)

    def is_active(self, share: float) -> bool:
        """Whether the job is running when that share of the log has passed."""
        return self.starts <= share < self.ends


def _at(*places: tuple[str, int]) -> tuple[Place, ...]:
    return tuple(Place(station, rpm) for station, rpm in places)


def _job(
    number: int,
    part: str,
    thread: str,
    style: TapStyle,
    material: str,
    making: HoleMaking,
    depth_mm: float,
    control: DepthControl,
    lubricant: Lubricant,
    holes_per_part: int,
    *places: tuple[str, int],
    span: tuple[float, float] = (0.0, 2.0),
    weight: float = 1.0,
    to_come: int = 0,
    due: int = 0,
    changes_at: int | None = None,
) -> JobPlan:
    return JobPlan(
        code=f"J-{number}",
        part=part,
        thread=thread,
        style=style,
        material=material,
        hole_making=making,
        depth_mm=depth_mm,
        depth_control=control,
        lubricant=lubricant,
        holes_per_part=holes_per_part,
        places=_at(*places),
        starts=span[0],
        ends=span[1],
        weight=weight,
        parts_to_come=to_come,
        due_in_workdays=due,
        changes_tap_at=changes_at,
    )


_M8, _M10, _M12, _U10, _U14, _U38, _U12 = (
    "M8",
    "M10",
    "M12x1.25",
    "#10-32 UNF",
    "1/4-20 UNC",
    "3/8-16 UNC",
    "1/2-13 UNC",
)
_PAST, _EARLY, _LATE = (0.0, 0.55), (0.0, 0.3), (0.45, 2.0)
_MIDDLE, _PLANNED = (0.3, 0.75), (1.5, 2.0)

JOBS: tuple[JobPlan, ...] = (
    # steel
    _job(1001, "conveyor side plate", _M8, POINT, STRUCTURAL, DRILLED, 10, STOP, BRUSHED, 8,
         (ARM_1, 300), (ARM_2, 300), (PRESS, 480), weight=2.0, to_come=60, due=8),
    _job(1002, "gate hinge block", _U38, POINT, STRUCTURAL, DRILLED, 16, STOP, BRUSHED, 4,
         (ARM_1, 180), (ARM_2, 180), (AIR, 350), weight=2.0, to_come=90, due=12),
    _job(1003, "trailer cross member", _U38, POINT, STRUCTURAL, LASER, 12, EYE, BRUSHED, 10,
         (ARM_1, 180), (AIR, 350), weight=1.5, to_come=35, due=6),
    _job(1004, "motor foot", _M10, POINT, STRUCTURAL, DRILLED, 15, STOP, BRUSHED, 4,
         (ARM_2, 350), (AIR, 350), weight=1.4, to_come=80, due=15),
    _job(1005, "lifting lug plate", _U12, POINT, STRUCTURAL, DRILLED, 20, EYE, BRUSHED, 2,
         (ARM_1, 140), (AIR, 350), to_come=60, due=18),
    _job(1006, "cabinet rail", "M6", POINT, STRUCTURAL, PUNCHED, 4, STOP, MIST, 12,
         (PRESS, 600), (ARM_1, 420), to_come=50, due=10),
    _job(1007, "valve body", _M12, FLUTE, ALLOY, DRILLED, 22, STOP, FLOOD, 4,
         (ARM_1, 130), (CENTRE, 210), to_come=40, due=14, changes_at=150),
    _job(1008, "gear housing cover", _M8, POINT, ALLOY, DRILLED, 14, STOP, BRUSHED, 6,
         (ARM_2, 200), (CENTRE, 240), weight=0.9, to_come=45, due=20),
    _job(1009, "clamp jaw", _U14, POINT, ALLOY, DRILLED, 12, STOP, BRUSHED, 4,
         (ARM_1, 250), (PRESS, 400), weight=0.8, span=_PAST),
    _job(1010, "roller bracket", "M6", POINT, FREE_CUTTING, DRILLED, 9, STOP, BRUSHED, 6,
         (PRESS, 700), (CENTRE, 800), to_come=100, due=9),
    _job(1011, "coupling flange", _M8, FLUTE, FREE_CUTTING, DRILLED, 16, CLUTCH, BRUSHED, 6,
         (ARM_1, 380), (CENTRE, 500), to_come=50, due=16),
    _job(1012, "sensor post", _U14, POINT, FREE_CUTTING, DRILLED, 10, STOP, MIST, 2,
         (PRESS, 600), span=_EARLY, weight=1.2),
    _job(1013, "bearing cap", _M10, POINT, FREE_CUTTING, DRILLED, 18, STOP, FLOOD, 4,
         (CENTRE, 460), (ARM_2, 350), span=_MIDDLE),
    # stainless
    _job(1014, "pump cover", "M6", FLUTE, STAINLESS, DRILLED, 12, CLUTCH, BRUSHED, 6,
         (ARM_1, 180), (ARM_1, 280), (ARM_2, 280), (CENTRE, 450), weight=0.8, to_come=40, due=7, changes_at=140),
    _job(1015, "food tray frame", _M8, POINT, STAINLESS, LASER, 6, EYE, BRUSHED, 8,
         (ARM_1, 200), (ARM_2, 200), weight=0.9, to_come=30, due=11),
    _job(1016, "tank flange", _M8, POINT, STAINLESS, DRILLED, 14, STOP, FLOOD, 8,
         (ARM_1, 200), (CENTRE, 240), to_come=36, due=19),
    _job(1017, "handrail base", _U14, POINT, STAINLESS, DRILLED, 9, STOP, BRUSHED, 4,
         (ARM_2, 180), (ARM_1, 180), span=_PAST, weight=0.9),
    _job(1018, "instrument panel", _U10, POINT, STAINLESS, PUNCHED, 3, STOP, BRUSHED, 10,
         (ARM_1, 240), (AIR, 350), span=_LATE, weight=0.7, to_come=25, due=13),
    # cast iron
    _job(1019, "hand pump body", _M10, STRAIGHT, CAST_IRON, CAST, 18, STOP, DRY, 6,
         (ARM_2, 250), (PRESS, 300), (CENTRE, 420), weight=1.2, to_come=60, due=17),
    _job(1020, "machine foot", _U12, POINT, CAST_IRON, DRILLED, 24, EYE, DRY, 2,
         (ARM_2, 180), (AIR, 350), span=_LATE, weight=0.8, to_come=70, due=22),
    # aluminium and brass
    _job(1021, "control box lid", "M6", FORMING, ALUMINIUM, DRILLED, 12, CLUTCH, BRUSHED, 8,
         (PRESS, 1000), (CENTRE, 1450), (AIR, 350), weight=1.8, to_come=120, due=8),
    _job(1022, "heat sink", _M8, FLUTE, ALUMINIUM, DRILLED, 16, CLUTCH, MIST, 6,
         (CENTRE, 800), (PRESS, 700), (AIR, 350), weight=1.5, to_come=90, due=12),
    _job(1023, "lamp housing", _U10, POINT, ALUMINIUM, DRILLED, 8, STOP, BRUSHED, 6,
         (PRESS, 1100), (ARM_2, 480), (AIR, 350), weight=1.1, to_come=110, due=10),
    _job(1024, "adapter plate", _M10, POINT, ALUMINIUM, DRILLED, 18, STOP, FLOOD, 8,
         (CENTRE, 500), (ARM_1, 450), weight=1.1, to_come=70, due=15),
    _job(1025, "drone frame node", _U14, POINT, ALUMINIUM, REAMED, 10, STOP, MIST, 4,
         (PRESS, 900), (AIR, 350), span=_PAST, weight=1.1),
    _job(1026, "manifold plug block", "M6", FORMING, BRASS, DRILLED, 10, CLUTCH, BRUSHED, 10,
         (PRESS, 800), (CENTRE, 1200), span=_LATE, weight=0.9, to_come=60, due=21),
    _job(1027, "water meter body", _M8, POINT, BRASS, DRILLED, 14, STOP, DRY, 4,
         (ARM_2, 480), (PRESS, 600), weight=0.9, span=_MIDDLE),
    # the fitting bench
    _job(1028, "frame repair, M12 fine", _M12, FLUTE, STRUCTURAL, DRILLED, 25, EYE, BRUSHED, 6,
         (WRENCH, 20), to_come=4, due=5),
    _job(1029, "jig base, one-off", _U12, POINT, STRUCTURAL, DRILLED, 25, EYE, BRUSHED, 6,
         (WRENCH, 15), span=_PAST),
    # planned: nothing run yet
    _job(1030, "ladder bracket", _M8, POINT, STRUCTURAL, LASER, 8, EYE, BRUSHED, 12,
         (ARM_1, 300), span=_PLANNED, to_come=80, due=14),
    _job(1031, "marine cleat", _U38, POINT, STAINLESS, DRILLED, 14, STOP, BRUSHED, 2,
         (ARM_1, 130), span=_PLANNED, to_come=150, due=24),
    _job(1032, "battery tray", "M6", FORMING, ALUMINIUM, PUNCHED, 6, STOP, MIST, 16,
         (PRESS, 1000), span=_PLANNED, to_come=120, due=18),
    _job(1033, "brake caliper bracket", _M12, FLUTE, ALLOY, DRILLED, 24, STOP, FLOOD, 2,
         (CENTRE, 210), span=_PLANNED, to_come=200, due=28),
    _job(1034, "pump cover, large", _M8, POINT, STAINLESS, DRILLED, 16, STOP, FLOOD, 8,
         (CENTRE, 300), span=_PLANNED, to_come=45, due=33),
)  # fmt: skip

PLACES_BY_STATION: dict[str, tuple[tuple[JobPlan, Place], ...]] = {
    station: tuple((job, place) for job in JOBS for place in job.places if place.station == station)
    for station in (ARM_1, ARM_2, AIR, PRESS, CENTRE, WRENCH)
}
