"""One tap's hidden life: how much of it each hole uses up, when it ends, and how often the clutch slips on the way."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace

from seed import shop
from seed.jobs import JobPlan
from seed.rows import TapType
from seed.truth import Circumstances, TrueLife, Truth
from shopfloor.core.floor.cutting import surface_speed_m_min
from shopfloor.core.threads import major_diameter_mm
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Lubricant

_STEPS = 4
_DRY_IS_USUAL = (IsoGroup.K, IsoGroup.N)
_GROUP_OF = {material.code: material.iso_group for material in shop.MATERIALS}


@dataclass(frozen=True)
class Setting:
    """The conditions of a run, apart from the tap."""

    station: str
    job: JobPlan
    rpm: int
    lubricant: Lubricant


@dataclass
class HiddenLife:
    """A tap's life in shares of its true scale: what it can bear, and what it has used up.

    Counting in shares of the scale lets a tap move between materials and speeds: each hole uses up life at the rate
    of its condition.
    """

    wear_limit: float
    break_limit: float
    warns: bool
    wear_used: float = 0.0
    break_used: float = 0.0

    @property
    def is_worn(self) -> bool:
        """Whether the gauge would fail it now."""
        return self.wear_used >= self.wear_limit

    @property
    def share_used(self) -> float:
        """How much of the life is used, 0 to 1, as it shows in the cutting torque."""
        break_share = self.break_used / self.break_limit if self.warns else 0.0
        return min(1.0, max(self.wear_used / self.wear_limit, break_share))

    def holes_to_wear(self, life: TrueLife) -> int:
        """The hole, counted from now, in which it becomes worn."""
        return max(1, math.ceil((self.wear_limit - self.wear_used) * life.wear.scale))

    def holes_to_break(self, life: TrueLife) -> int:
        """The hole, counted from now, in which it breaks."""
        return max(1, math.ceil((self.break_limit - self.break_used) * life.breakage.scale))

    def cut(self, holes: float, life: TrueLife) -> None:
        """Use up the life of that many holes."""
        self.wear_used += holes / life.wear.scale
        self.break_used += holes / life.breakage.scale


@dataclass
class TapInHand:
    """A physical tap: its type, lot and regrinds, and its current hidden life."""

    code: str
    kind: TapType
    lot: str | None
    regrinds: int
    hidden: HiddenLife
    holes: int = 0
    last_used: int = 0
    last_work: tuple[str, int] = ("", 0)
    """The material and speed it was last used for."""
    is_overdue: bool = False
    """Worn, but not yet noticed."""


def draw_life(rng: random.Random, truth: Truth, kind: TapType) -> HiddenLife:
    """A new tap's life: its frailty, then what it can bear before it is worn and before it breaks."""
    style = truth.styles[kind.style]
    frailty = rng.lognormvariate(-(truth.frailty_sd**2) / 2, truth.frailty_sd)
    return HiddenLife(
        wear_limit=frailty * rng.weibullvariate(1, style.wear_shape),
        break_limit=frailty * rng.weibullvariate(1, style.break_shape),
        warns=rng.random() >= truth.sudden_break_share,
    )


def draw_used_life(rng: random.Random, truth: Truth, kind: TapType, life: TrueLife, holes: int) -> HiddenLife:
    """The life of a tap that has survived `holes` in one condition: only such taps are there to be seen."""
    while True:
        hidden = draw_life(rng, truth, kind)
        hidden.cut(holes, life)
        if not hidden.is_worn and hidden.break_used < hidden.break_limit:
            return hidden


def true_life(truth: Truth, tap: TapInHand, setting: Setting) -> TrueLife:
    """The true life of a tap in a setting."""
    is_dry = setting.lubricant is Lubricant.NONE and _GROUP_OF[setting.job.material] not in _DRY_IS_USUAL
    circumstances = Circumstances(
        is_laser_cut=setting.job.hole_making is HoleMaking.LASER,
        is_misaligned=setting.station == truth.misaligned_station,
        is_dry=is_dry,
        is_bad_lot=tap.lot == truth.bad_lot_code,
        regrinds=tap.regrinds,
    )
    speed = surface_speed_m_min(major_diameter_mm(tap.kind.thread), setting.rpm)
    return truth.life(tap.kind, setting.job.material, speed, circumstances)


def cutting_slips(
    rng: random.Random, truth: Truth, tap: TapInHand, setting: Setting, life: TrueLife, holes: int
) -> int:
    """Cutting slips in the next `holes`; call it before the tap cuts them. Bottoming slips are not among them."""
    ahead = replace(tap.hidden)
    rises = []
    for _ in range(_STEPS):
        ahead.cut(holes / _STEPS, life)
        rises.append(truth.rise_of_slips(ahead.share_used))
    fresh = truth.fresh_slips_per_hole(setting.job.material, setting.station, setting.job.hole_making)
    return poisson(rng, holes * fresh * sum(rises) / _STEPS)


def poisson(rng: random.Random, mean: float) -> int:
    """A Poisson count, by multiplying uniform numbers (Knuth, The Art of Computer Programming 2, 3.4.1)."""
    limit, product, count = math.exp(-mean), rng.random(), 0
    while product > limit:
        product *= rng.random()
        count += 1
    return count
