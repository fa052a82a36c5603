"""Do cutting slips foretell breaks better than age alone? `python -m tests.bench.bench_slips --seeds 201 202`.

Logs of the demo's invented shop with other chance, in several worlds:

as simulated    slips rise with the share of life used, tenfold at the end; a quarter of the breaks give no warning.
                Taps also wear, and slips rise with wear as well
wear alone      slips rise with wear and no break gives a warning
no news         each tap has a rate of slips of its own, spread as the product believes, which says nothing of its life
a young log     as simulated, the first 60 taps alone

Taps are held out in turn, in five parts. The chance that a held-out tap breaks in a run, given its past, comes from the
posterior of the other taps; with slips it is what the product makes of it, learned from the other taps. Scores are
means over runs; their standard errors hold for taps as a whole.
"""

from __future__ import annotations

import argparse
import csv
import math
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from seed.export import write_files
from seed.simulate import DEFAULT_TRUTH, simulate
from seed.truth import Truth
from shopfloor.core.decision.failure_probability import chances, life_used
from shopfloor.core.floor.cutting import speed_band
from shopfloor.core.hierarchical.inference.posterior import Posterior, posterior
from shopfloor.core.hierarchical.model.conditions import Condition, Histories, History, Use
from shopfloor.core.hierarchical.model.frailty import MOST_LOG_HAZARD, cumulative_hazard
from shopfloor.core.hierarchical.prediction.draws import Draws, draw, weights
from shopfloor.core.hierarchical.prediction.slip_model import SlipRuns, fit_slip_model
from shopfloor.core.survival.censored_data import FloatArray
from shopfloor.core.threads import major_diameter_mm
from shopfloor.core.vocabulary import DepthControl, IsoGroup, Mode, StationKind, TapEnd

PARTS, YOUNG, LEAST = 5, 60, 1e-9


@dataclass(frozen=True)
class Run:
    """What a run tells: `planned` is the batch from there on, `made` what the tap made of it at most."""

    condition: Condition
    planned: int
    made: int
    broke_at: int | None
    is_broken: bool
    slips: int
    counts_slips: bool


@dataclass(frozen=True)
class Life:
    """The runs of one life, `before` the holes when first seen."""

    tap: str
    before: int
    runs: tuple[Run, ...]

    def history(self, places: Mapping[Condition, int]) -> History:
        """As the posterior reads it: how it broke, or that it had not until its last hole."""
        age = float(self.before + sum(run.made for run in self.runs))
        last, uses = self.runs[-1], tuple(Use(places[run.condition], run.made) for run in self.runs)
        if not last.is_broken:
            return History(uses, age, math.inf, self.before)
        lower = age if last.broke_at else age - last.made
        return History(uses, lower, age, self.before, Mode.BREAK.value)


@dataclass(frozen=True)
class Told:
    """A run of a held-out tap: its chance of a break by age, and with slips, and what happened."""

    tap: str
    by_age: float
    with_slips: float
    broke: bool


def read(folder: Path) -> list[Life]:
    """Every life whose holes are known from the start."""

    def rows(name: str) -> list[dict[str, str]]:
        with (folder / f"{name}.csv").open(newline="") as file:
            return list(csv.DictReader(file))

    words = {word.value: word for word in IsoGroup}
    groups = {row["code"]: words[row["ISO group"]] for row in rows("materials")}
    wrenches = {row["code"] for row in rows("stations") if row["kind"] == StationKind.HAND_WRENCH.value}
    runs = rows("runs")
    left: dict[str, int] = defaultdict(int)
    read_runs: dict[str, list[Run]] = defaultdict(list)
    for row in reversed(runs):
        left[row["batch"]] += int(row["holes"])
        read_runs[row["tap"]].insert(0, _run(row, left[row["batch"]], groups, wrenches))
    return [
        Life(row["code"].split("-")[0], int(row["holes before"]), tuple(read_runs[row["code"]]))
        for row in rows("taps") if row["holes before"] != "unknown" and row["code"] in read_runs
    ]  # fmt: skip


def _run(row: Mapping[str, str], planned: int, groups: Mapping[str, IsoGroup], wrenches: set[str]) -> Run:
    band = speed_band(float(row["rpm"]), major_diameter_mm(row["thread"]))
    condition = Condition(row["tap type"], row["material"], groups[row["material"]], math.sqrt(band.low * band.high))
    is_broken = row["tap end"] == TapEnd.BROKEN.value
    is_mute = row["depth control"] == DepthControl.CLUTCH.value or row["station"] in wrenches
    made, broke_at = int(row["holes"]), int(row["broke at hole"]) if row["broke at hole"] else None
    return Run(
        condition, planned if is_broken else made, broke_at or made, broke_at, is_broken,
        int(row["cutting slips"] or 0), row["cutting slips"] != "" and not is_mute,
    )  # fmt: skip


def simulated(seed: int, truth: Truth = DEFAULT_TRUTH) -> list[Life]:
    """The lives of a simulated shop."""
    with tempfile.TemporaryDirectory() as folder:
        write_files(simulate(datetime(2026, 6, 1, tzinfo=UTC), seed, truth=truth), Path(folder))
        return read(Path(folder))


def no_news(seed: int) -> list[Life]:
    """The same lives, with slips that are each tap's own and say nothing of its life."""
    rng, before = np.random.default_rng(seed), simulated(seed)
    rates = {run.condition.material: rng.uniform(0.01, 0.05) for life in before for run in life.runs}
    lives = []
    for life in before:
        own = rng.gamma(2.0, 0.5)
        means = [own * rates[run.condition.material] * run.made for run in life.runs]
        runs = [replace(run, slips=int(rng.poisson(mean))) for run, mean in zip(life.runs, means, strict=True)]
        lives.append(replace(life, runs=tuple(runs)))
    return lives


def young(seed: int) -> list[Life]:
    """The lives of the shop's first taps."""
    lives = simulated(seed)
    taps = list(dict.fromkeys(life.tap for life in lives))[:YOUNG]
    return [life for life in lives if life.tap in taps]


WORLDS: Mapping[str, Callable[[int], list[Life]]] = {
    "as simulated": simulated,
    "wear alone": lambda seed: simulated(seed, Truth(sudden_break_share=1.0)),
    "no news": no_news,
    "a young log": young,
}


def told_by_others(lives: Sequence[Life], seed: int = 1) -> tuple[list[Told], list[float]]:
    """Every run of every tap, by what the taps of the other parts tell; and how strongly slips counted in each part."""
    taps = sorted({life.tap for life in lives})
    part_of = dict(zip(taps, np.random.default_rng(seed).permutation(np.arange(len(taps)) % PARTS), strict=True))
    conditions = tuple(dict.fromkeys(run.condition for life in lives for run in life.runs))
    places = {condition: i for i, condition in enumerate(conditions)}
    told: list[Told] = []
    strengths = []
    for part in range(PARTS):
        others = [life for life in lives if part_of[life.tap] != part]
        held = [life for life in lives if part_of[life.tap] == part]
        known = posterior(Histories.of([life.history(places) for life in others]), conditions, Mode.BREAK.value)
        law = fit_slip_model(slip_runs(others, places), known)
        strengths.append(law.strength)
        times = iter(np.exp(law.before_each(slip_runs(held, places), known)))
        told += [one for life in held for one in _told_of(life, known, times)]
    return told, strengths


def slip_runs(lives: Sequence[Life], places: Mapping[Condition, int]) -> SlipRuns:
    """The runs as the product reads them."""
    rows = [
        (
            number, places[run.condition], run.made, run.made, life.before * (i == 0),
            run.slips if run.counts_slips else math.nan, run.is_broken,
        )
        for number, life in enumerate(lives) for i, run in enumerate(life.runs)
    ]  # fmt: skip
    number, condition, holes, life_holes, before, slips, broke = np.array(rows, float).T
    whole = number.astype(np.int64), condition.astype(np.int64), tuple(places)
    return SlipRuns(*whole, holes, life_holes, before, slips, broke > 0)


def _told_of(life: Life, known: Posterior, times: Iterator[float]) -> Iterator[Told]:
    past: dict[Condition, float] = {}
    for i, run in enumerate(life.runs):
        here = past.pop(run.condition, float(life.before) if i == 0 else 0.0)
        past[run.condition] = here
        laws, holes = draw(known, tuple(past)), list(past.values())
        given = _given(laws, holes)
        by_age, with_slips = (
            float(np.clip(given @ chances([laws], holes, run.planned, [by]), LEAST, 1 - LEAST))
            for by in (1.0, next(times))
        )
        yield Told(life.tap, by_age, with_slips, run.is_broken)
        past[run.condition] = here + run.made


def _given(laws: Draws, holes: Sequence[float]) -> FloatArray:
    """Weights of the laws given that the tap has lasted until now."""
    log_used = np.log(np.maximum(life_used(laws, holes), 1e-300))
    hazard = np.exp(np.minimum(np.exp(laws.log_shape[:, -1]) * log_used, MOST_LOG_HAZARD))
    return weights([replace(laws, log_weight=laws.log_weight - cumulative_hazard(hazard, laws.frailty))])


def compared(name: str, told: Sequence[Told], strengths: Sequence[float]) -> None:
    """Print both scores without slips, and what slips gain."""
    broke = np.array([one.broke for one in told])
    number = {tap: i for i, tap in enumerate(dict.fromkeys(one.tap for one in told))}
    tap = np.array([number[one.tap] for one in told])
    ways = [np.array([getattr(one, way) for one in told]) for way in ("by_age", "with_slips")]
    log_age, log_slips = (np.log(np.where(broke, chance, 1 - chance)) for chance in ways)
    brier_age, brier_slips = ((chance - broke) ** 2 for chance in ways)
    gain, error = mean_by_taps(log_slips - log_age, tap)
    spared, doubt = mean_by_taps(brier_age - brier_slips, tap)
    percent = 100 / brier_age.mean()
    print(
        f"{name:18} {len(told):5} runs {len(number):4} taps {broke.sum():4} breaks, b {np.mean(strengths):.2f}:"
        f" log score {log_age.mean():.4f}, {1000 * gain:5.2f} +- {1000 * error:.2f} in 1,000 better;"
        f" Brier {brier_age.mean():.4f}, {percent * spared:5.2f} +- {percent * doubt:.2f} % better",
        flush=True,
    )


def mean_by_taps(values: FloatArray, tap: FloatArray) -> tuple[float, float]:
    """Mean over runs and its standard error, where the runs of one tap go together."""
    sums = np.bincount(tap, values - values.mean())
    return float(values.mean()), float(np.sqrt((sums**2).sum()) / len(values))


def main() -> None:
    """Print the comparison in each world, for each seed and all together."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="*", default=[201, 202])
    parser.add_argument("--worlds", nargs="*", choices=WORLDS, default=list(WORLDS))
    asked = parser.parse_args()
    for world in asked.worlds:
        whole: list[Told] = []
        all_strengths: list[float] = []
        for seed in asked.seeds:
            told, strengths = told_by_others(WORLDS[world](seed))
            compared(f"{world} {seed}", told, strengths)
            whole += [replace(one, tap=f"{seed} {one.tap}") for one in told]
            all_strengths += strengths
        compared(f"{world}, all", whole, all_strengths)


if __name__ == "__main__":
    main()
