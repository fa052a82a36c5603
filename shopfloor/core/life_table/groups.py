"""Estimates for each group of a life table, from the posterior of all groups together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopfloor.core.hierarchical.inference.posterior import experience, posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories, IntArray
from shopfloor.core.hierarchical.model.exploration import Experience
from shopfloor.core.hierarchical.prediction.draws import Draws, draw
from shopfloor.core.survival.censored_data import Evidence, Lives
from shopfloor.core.vocabulary import Mode


@dataclass(frozen=True, eq=False)
class GroupPosterior:
    """What a life table tells of the lives under one condition.

    Attributes
    ----------
    evidence             lives, failures and holes of exactly this condition
    shrinkage : float    share of the information on the first mode's scale that is borrowed: from other groups and from
                         the prior, 0 to 1
    experience           failures in the table, and in this condition
    modes, draws         the competing modes of failure, and draws of the life distribution of each
    """

    condition: Condition
    evidence: Evidence
    shrinkage: float
    experience: Experience
    modes: tuple[str, ...]
    draws: tuple[Draws, ...]


def group_posteriors(lives: Lives, conditions: Sequence[Condition], place: IntArray) -> list[GroupPosterior]:
    """The posterior of each group, shrunk towards the others where it has few failures.

    Parameters
    ----------
    lives         ages in holes; each life spent under one condition
    conditions    those of the lives, each once
    place         shape (n,): index of each life's condition in `conditions`

    Raises
    ------
    NotConverged    not known to happen
    """
    modes = competing_modes(lives)
    histories = Histories.plain(lives, place)
    known = list(posteriors(histories, conditions, modes).values())
    return [
        GroupPosterior(
            condition,
            lives.rows(np.flatnonzero(place == i)).evidence,
            known[0].shrinkage(condition),
            experience(known, condition),
            modes,
            tuple(draw(one, [condition], stream=stream) for stream, one in enumerate(known)),
        )
        for i, condition in enumerate(conditions)
    ]


def competing_modes(lives: Lives) -> tuple[str, ...]:
    """The modes by which these lives can fail: break and wear where only these are named, else those that are named.

    Where none is named, all failures count as one mode without a name.
    """
    named, usual = tuple(lives.modes()), tuple(mode.value for mode in Mode)
    return usual if named and set(named) <= set(usual) else named or ("",)
