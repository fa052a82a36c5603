"""Do cutting slips foretell breaks better than age alone, in this shop? Learned from its own log, or left out.

The hazard of a tap is taken times exp(c + b x), where x tells how far its recent slips are above those of its peers.
c and b are the likeliest by the log; they count only where runs of taps that were kept apart are foretold better.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from shopfloor.core.observations import FloatArray

PARTS = 5
SURE = 2.0
"""Standard errors by which slips must foretell better: about one shop in 40 would take them in by chance."""

FEWEST_BREAKS = 20
"""Breaks below which nothing is learned. Common practice, no source."""

_LEAST = 1e-9


@dataclass(frozen=True, eq=False)
class SeenRuns:
    """Runs as foretold without slips, by laws that were learned from other taps, and what happened.

    Attributes
    ----------
    growth, weight : (n, s)    by how much -log S grew in each run, under each law; the laws' weights
    rise : (n,)                x of each run, see `rise`
    broke : (n,)               whether the tap broke in the run
    tap : (n,)                 the number of the tap
    """

    growth: FloatArray
    weight: FloatArray
    rise: FloatArray
    broke: FloatArray
    tap: FloatArray

    @classmethod
    def of(
        cls, growth: Sequence[FloatArray], weight: Sequence[FloatArray], rise: Sequence[float],
        broke: Sequence[bool], taps: Sequence[Hashable],
    ) -> SeenRuns:  # fmt: skip
        """From one row a run."""
        number = {tap: float(i) for i, tap in enumerate(dict.fromkeys(taps))}
        told = np.array([number[tap] for tap in taps])
        return cls(np.array(growth), np.array(weight), np.array(rise, float), np.array(broke, float), told)

    def where(self, kept: FloatArray) -> SeenRuns:
        """The runs of these rows."""
        return SeenRuns(*(getattr(self, name)[kept] for name in ("growth", "weight", "rise", "broke", "tap")))


@dataclass(frozen=True)
class SlipFactor:
    """The hazard times exp(c + b x)."""

    c: float
    b: float

    def chances(self, growth: FloatArray, weight: FloatArray, rise: FloatArray) -> FloatArray:
        """Chance to break in each run, shape (n,); parameters as in `SeenRuns`."""
        factor = np.exp(self.c + self.b * rise)[:, None]
        return np.asarray((weight * -np.expm1(-growth * factor)).sum(axis=1))

    def scores(self, runs: SeenRuns) -> FloatArray:
        """log of the chance that was given to what happened, by run."""
        chance = np.clip(self.chances(runs.growth, runs.weight, runs.rise), _LEAST, 1 - _LEAST)
        return np.log(np.where(runs.broke > 0, chance, 1 - chance))


NO_FACTOR = SlipFactor(0.0, 0.0)


@dataclass(frozen=True)
class Learned:
    """What slips add in this shop.

    Attributes
    ----------
    factor           by all runs
    gain, error      mean gain in log score of runs of taps kept apart, over age alone, and its standard error by taps
    is_shown         whether that is sure enough to use the factor
    """

    factor: SlipFactor
    gain: float
    error: float

    @property
    def is_shown(self) -> bool:
        """Whether slips are shown to foretell better."""
        return self.gain > SURE * self.error


def rise(slips: float, usual: float) -> float:
    """How far recent slips are above what is usual of peers in as many holes; one more on both sides tames few."""
    return float(np.log((slips + 1) / (usual + 1)))


def likeliest(runs: SeenRuns, *, with_slips: bool = True) -> SlipFactor:
    """The likeliest factor; without slips its c alone."""

    def less_likely(at: FloatArray) -> float:
        return -float(SlipFactor(at[0], at[1] if with_slips else 0.0).scores(runs).sum())

    found = minimize(less_likely, np.zeros(2 if with_slips else 1), method="Nelder-Mead", options={"xatol": 1e-3})
    return SlipFactor(float(found.x[0]), float(found.x[1]) if with_slips else 0.0)


def foretold(runs: SeenRuns, *, with_slips: bool = True) -> FloatArray:
    """Scores of all runs, each by the factor that the taps of the other parts tell, shape (n,)."""
    part = np.random.default_rng(0).permutation(np.arange(int(runs.tap.max()) + 1) % PARTS)[runs.tap.astype(int)]
    scores = np.zeros(len(runs.tap))
    for one in range(PARTS):
        factor = likeliest(runs.where(part != one), with_slips=with_slips)
        scores[part == one] = factor.scores(runs.where(part == one))
    return scores


def learned(runs: SeenRuns) -> Learned | None:
    """Whether slips foretell breaks in this shop, and how; None where fewer than FEWEST_BREAKS taps broke.

    References
    ----------
    M. Stone, Cross-validatory choice and assessment of statistical predictions, J. Roy. Statist. Soc. B 36 (1974)
    111-147; T. Gneiting & A. E. Raftery, Strictly proper scoring rules, J. Amer. Statist. Assoc. 102 (2007) 359-378
    """
    if runs.broke.sum() < FEWEST_BREAKS:
        return None
    better = foretold(runs) - NO_FACTOR.scores(runs)
    return Learned(likeliest(runs), *mean_by_taps(better, runs.tap))


def mean_by_taps(values: FloatArray, tap: FloatArray) -> tuple[float, float]:
    """Mean over runs and its standard error, where the runs of one tap go together."""
    sums = np.bincount(tap.astype(int), values - values.mean())
    return float(values.mean()), float(np.sqrt((sums**2).sum()) / len(values))
