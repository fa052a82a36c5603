"""Design matrices: how log scale and log shape of each condition are composed of effects that conditions share.

Each trait of a hole or a tap has one effect for all tap types; only tap type, material and speed together have a
deviation of their own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from shopfloor.core.hierarchical.model import priors
from shopfloor.core.hierarchical.model.conditions import Condition, Trait
from shopfloor.core.hierarchical.model.priors import Hyperparameters
from shopfloor.core.survival.censored_data import BoolArray, FloatArray
from shopfloor.core.vocabulary import IsoGroup


@dataclass(frozen=True, eq=False)
class _EffectBlock:
    """Effects of one kind: one column per label, with its prior mean and, by hyperparameters, standard deviation."""

    labels: tuple[Hashable, ...]
    mean: tuple[float, ...]
    sd: Callable[[Hyperparameters], float]
    values_of: Callable[[Condition], Mapping[Hashable, float]]
    """The labels of a condition, each with its value in the column."""
    mean_of: Callable[[Hashable], float] = lambda _: 0.0

    @cached_property
    def places(self) -> dict[Hashable, int]:
        """The column of each label."""
        return {label: i for i, label in enumerate(self.labels)}

    def rows(self, conditions: Sequence[Condition]) -> FloatArray:
        """Values of these columns for each condition."""
        found = np.zeros((len(conditions), len(self.labels)))
        for row, condition in zip(found, conditions, strict=True):
            for label, value in self.values_of(condition).items():
                if label in self.places:
                    row[self.places[label]] = value
        return found

    def unseen(self, condition: Condition) -> list[tuple[Hashable, float]]:
        """Labels of the condition that have no column, with their values."""
        return [(label, value) for label, value in self.values_of(condition).items() if label not in self.places]


@dataclass(frozen=True, eq=False)
class DesignRows:
    """How (b, m) of n conditions follow from the effects.

    Attributes
    ----------
    of_effects : (2 n, p)    rows of the design matrix, in the order b, m, b, m, ...
    offset : (2 n,)          prior mean of the parts that no column covers (conditions not in the log)
    variance : (k, 2 n)      their prior variance, by hyperparameters
    """

    of_effects: FloatArray
    offset: FloatArray
    variance: FloatArray


@dataclass(frozen=True, eq=False)
class Design:
    """The design: b = `shape` @ effects and m = `scale` @ effects.

    Attributes
    ----------
    conditions         the c conditions of the log
    hyperparameters    the k settings of the hyperparameters
    shape, scale       design matrices of log shape and log scale, (c, p)
    mean, sd           prior mean and standard deviation of the effects by hyperparameters, (k, p)
    """

    conditions: tuple[Condition, ...]
    hyperparameters: tuple[Hyperparameters, ...]
    shape: FloatArray
    scale: FloatArray
    mean: FloatArray
    sd: FloatArray
    _of_scale: tuple[_EffectBlock, ...]
    _of_shape: tuple[_EffectBlock, ...]

    @property
    def labels(self) -> list[Hashable]:
        """What each effect belongs to; each label occurs once."""
        return [(i, label) for i, block in enumerate((*self._of_scale, *self._of_shape)) for label in block.labels]

    def rows(self, conditions: Sequence[Condition]) -> DesignRows:
        """Design rows of any conditions; parts that the log has not seen take their prior mean and variance."""
        shape, scale = _columns(conditions, self._of_scale, self._of_shape)
        offset, variance = [], []
        for one in conditions:
            for blocks in (self._of_shape, self._of_scale):
                new = [(block, label, value) for block in blocks for label, value in block.unseen(one)]
                offset.append(sum(block.mean_of(label) * value for block, label, value in new))
                variance.append(
                    [sum((block.sd(s) * value) ** 2 for block, _, value in new) for s in self.hyperparameters]
                )
        of_effects = np.stack([shape, scale], axis=1).reshape(2 * len(conditions), -1)
        return DesignRows(of_effects, np.array(offset), np.array(variance).T)

    def subset(self, which: BoolArray) -> Design:
        """The design for some of the hyperparameter settings, by mask (k,)."""
        some = tuple(one for one, is_in in zip(self.hyperparameters, which, strict=True) if is_in)
        return replace(self, hyperparameters=some, mean=self.mean[which], sd=self.sd[which])


def design(conditions: Sequence[Condition], hyperparameters: Sequence[Hyperparameters]) -> Design:
    """The design for these conditions; only prior means and standard deviations depend on the hyperparameters."""
    scale, shape = _scale_blocks(conditions), _shape_blocks(conditions)
    blocks = (*scale, *shape)
    many = [len(block.labels) for block in blocks]
    sd = np.repeat([[block.sd(one) for block in blocks] for one in hyperparameters], many, axis=1)
    mean = np.array([[value for block in blocks for value in block.mean]] * len(hyperparameters))
    mean[:, sum(many[: len(scale)])] = [one.shape for one in hyperparameters]
    of_shape, of_scale = _columns(conditions, scale, shape)
    return Design(tuple(conditions), tuple(hyperparameters), of_shape, of_scale, mean, sd, scale, shape)


def _columns(
    conditions: Sequence[Condition], of_scale: Sequence[_EffectBlock], of_shape: Sequence[_EffectBlock]
) -> tuple[FloatArray, FloatArray]:
    """Design matrices of shape and scale, (n, p) each: the effects on scale come first, then those on shape."""
    scale, shape = (np.hstack([block.rows(conditions) for block in blocks]) for blocks in (of_scale, of_shape))
    return np.hstack([np.zeros_like(scale), shape]), np.hstack([scale, np.zeros_like(shape)])


def _scale_blocks(conditions: Sequence[Condition]) -> tuple[_EffectBlock, ...]:
    return (
        _effect_block(conditions, lambda _: {"all": 1.0}, lambda _: priors.CENTRE_SD, lambda _: priors.CENTRE),
        _effect_block(conditions, lambda one: {one.family: 1.0}, lambda _: priors.FAMILY_SD),
        _effect_block(conditions, lambda one: {one.iso_group: 1.0}, lambda _: priors.ISO_GROUP_SD, _iso_mean),
        _effect_block(conditions, lambda one: {one.material: 1.0}, lambda _: priors.MATERIAL_SD),
        _effect_block(conditions, _log_speed, lambda _: priors.SPEED_POWER_SD, lambda _: priors.SPEED_POWER),
        _effect_block(conditions, lambda one: dict.fromkeys(one.traits, 1.0), lambda _: priors.TRAIT_SD, _trait_mean),
        _effect_block(conditions, lambda one: {one.group: 1.0}, lambda setting: setting.group_sd),
    )


def _shape_blocks(conditions: Sequence[Condition]) -> tuple[_EffectBlock, ...]:
    return (
        _effect_block(conditions, lambda _: {"all": 1.0}, lambda setting: setting.shape_sd),
        _effect_block(conditions, lambda one: {one.family: 1.0}, lambda setting: setting.shape_family_sd),
        _effect_block(conditions, lambda one: {one.group: 1.0}, lambda setting: setting.shape_group_sd),
    )


def _effect_block(
    conditions: Sequence[Condition],
    values_of: Callable[[Condition], Mapping[Any, float]],
    sd: Callable[[Hyperparameters], float],
    mean_of: Callable[[Any], float] = lambda _: 0.0,
) -> _EffectBlock:
    labels = tuple(dict.fromkeys(label for one in conditions for label in values_of(one)))
    return _EffectBlock(labels, tuple(mean_of(label) for label in labels), sd, values_of, mean_of)


def _iso_mean(group: IsoGroup | None) -> float:
    return priors.iso_offset(group)


def _trait_mean(trait: tuple[Trait, str]) -> float:
    return priors.TRAIT_MEANS.get(trait, 0.0)


def _log_speed(condition: Condition) -> Mapping[str, float]:
    """Log of the speed over `USUAL_SPEED`; 0 where the speed is not known."""
    return {"speed": math.log((condition.speed or priors.USUAL_SPEED) / priors.USUAL_SPEED)}
