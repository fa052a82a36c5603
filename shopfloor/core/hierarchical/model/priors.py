"""Priors of tap life, before the shop's log is read: weakly informative, each with its reason.

Lives vary by factors, so everything is in natural logs. What a shop's data can determine, such as how much groups
differ, is left to a grid of hyperparameters, weighted by their marginal likelihood.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from shopfloor.core.hierarchical.model.conditions import REGROUND, Trait
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Lubricant, Mode

CENTRE = math.log(300.0)
CENTRE_SD = 0.8
"""A tap makes a few hundred holes in steel, within a factor of about 5 either way. Common practice, no source."""

USUAL_SPEED = 10.0
"""m/min; the speed relative to which speeds enter the model."""

SPEED_POWER, SPEED_POWER_SD = -1.2, 0.45
"""Power of the speed to which life is proportional. Taylor's equation (ISO 3685) with exponents n of 0.1 to 0.25 for
the cutting time of high-speed steel means powers of -4 to -10 near the limit of a tool; at the low speeds of tapping,
counted in holes rather than minutes, shops see far less: common practice, no source. Hence a wide prior."""

FAMILY_SD = 0.5
ISO_GROUP_SD, MATERIAL_SD = 0.4, 0.3
TRAIT_SD = 0.3
"""Standard deviations of log life between tap types, ISO groups, materials within a group, and ways of making and
lubricating the hole: factors of 1.3 to 1.7 are ordinary, of 3 rare. Common practice, no source."""

TRAIT_MEANS = {
    (Trait.MAKING, HoleMaking.LASER.value): -0.3, (Trait.MAKING, HoleMaking.PLASMA.value): -0.4,
    (Trait.LUBRICANT, Lubricant.NONE.value): -0.25, (Trait.REGRIND, REGROUND): -0.2,
}  # fmt: skip
"""Thermal cuts leave a hard skin, dry taps rub and pick up metal, and a reground tap has a shorter chamfer: each costs
a fifth to a third of the holes. Weaker than `TRAIT_SD`, so that a few lives overrule it: in cast iron or brass, dry is
usual and harmless. Nothing is expected of blind or through holes and of coatings: style and speed are chosen to suit
them, and no rule of thumb says which way the rest goes. Common practice, no source."""

GROUP_SDS, SHAPE_GROUP_SDS = (0.15, 0.3, 0.65), (0.07, 0.07, 0.2)
"""Standard deviations of log life, and of log shape, between groups (one tap type in one material at one speed) that no
other effect explains: little, some, much. The shape of a tap type hardly depends on what it cuts, but where groups
differ much in life, the cause also affects how taps fail. In 30 simulated shops a scenario
(`tests/bench/regret_policy.py`) regret was 1.70 % at 10 failures a group and 0.99 % at 20; with 0.07 throughout 1.80
and 1.12 %. Common practice, no source."""

SHAPES = {Mode.BREAK.value: math.log(2.1), Mode.WEAR.value: math.log(2.1 * 1.75)}
SHAPE_SD, SHAPE_FAMILY_SD = 0.15, 0.15
"""Breaks come with some dulling: shapes of 1.5 to 3. Wear is steeper: 2.6 to 5.2. Nine in ten tap types lie within.
Common practice, no source; R. B. Abernethy, The New Weibull Handbook, chapter 2, gives similar ranges by mode."""

FLAT_CHANCE = 0.4
FLAT_SHAPE_SD, FLAT_FAMILY_SD, FLAT_GROUP_SD = 0.06, 0.06, 0.05
"""Prior probability that the taps of a shop break by mishap and not by age; their shape is then 1, within a tenth.
Bottoming, packed chips and a hole out of line come first on every list of causes, so it is far from 0; yet every shop
has seen taps dull. Common practice, no source."""

FRAILTIES = ((0.0, 0.6), (0.3, 0.4))
"""How much taps of one kind differ (variance of the gamma frailty), each with its prior probability: no grinder makes
all taps alike, but most shops cannot tell. Common practice, no source. Taps that differ by much more would break, taken
together, much as if by mishap, and the log could not tell the two apart: with variances of 0.5 and 1 for one shop in
five each, regret was 4.53 % with 3 failures a group, with 0.5 for three in ten 4.39 % (`tests/bench/regret_policy.py`,
five scenarios of 160 shops with rising hazards; 4.79 and 4.58 % where taps differ, 3.31 and 3.36 % where hazards are
flat)."""

ISO_SPEEDS = {
    IsoGroup.P: 10.0, IsoGroup.M: 5.5, IsoGroup.K: 9.5, IsoGroup.N: 16.0, IsoGroup.S: 3.5, IsoGroup.H: 3.0,
}  # fmt: skip
"""Surface speeds in m/min at which a high-speed steel tap is started in each group, the middle of the usual ranges. At
equal speed a tap lives longer in what may be cut faster: by the ratio of these speeds to the power of speed. Common
practice, no source. They are not the published start ranges of the set-up card, which serve to set a machine and span a
factor of up to 7 within a group: with the middles of those, regret in simulated shops was larger
(`tests/bench/regret_policy.py`, groups without a failure: 16.2 % instead of 14.2 %)."""


@dataclass(frozen=True)
class Hyperparameters:
    """One point of the hyperparameter grid: standard deviations on the log scale, and its prior probability.

    Attributes
    ----------
    group_sd           of log life between groups, beyond the other effects
    shape              prior mean of the log shape
    shape_sd           of the log shape common to the shop
    shape_family_sd    of the log shape between tap types
    shape_group_sd     of the log shape between groups
    frailty            variance of the gamma frailty
    log_prior          log of the prior probability of this point
    """

    group_sd: float
    shape: float
    shape_sd: float
    shape_family_sd: float
    shape_group_sd: float
    frailty: float
    log_prior: float


def hyperparameter_grid(mode: str) -> tuple[Hyperparameters, ...]:
    """The grid of hyperparameters for one mode of failure; its prior probabilities sum to 1.

    Only breaks may come by mishap alone (shape 1). An unknown mode counts as a break.
    """
    flat = 0.0 if mode == Mode.WEAR.value else FLAT_CHANCE
    shape = SHAPES.get(mode, SHAPES[Mode.BREAK.value])
    even = math.log(len(GROUP_SDS))
    rising = [
        Hyperparameters(sd, shape, SHAPE_SD, SHAPE_FAMILY_SD, of_shape, frailty, math.log((1 - flat) * chance) - even)
        for (sd, of_shape), (frailty, chance) in itertools.product(
            zip(GROUP_SDS, SHAPE_GROUP_SDS, strict=True), FRAILTIES
        )
    ]
    by_mishap = [
        Hyperparameters(sd, 0.0, FLAT_SHAPE_SD, FLAT_FAMILY_SD, FLAT_GROUP_SD, 0.0, math.log(flat) - even)
        for sd in GROUP_SDS
        if flat
    ]
    return (*rising, *by_mishap)


def iso_offset(group: IsoGroup | None) -> float:
    """Prior mean of log life in an ISO group relative to steel, at equal speed."""
    if group is None:
        return 0.0
    return SPEED_POWER * (math.log(ISO_SPEEDS[IsoGroup.P]) - math.log(ISO_SPEEDS[group]))
