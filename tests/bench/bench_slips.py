"""Do rising cutting slips foretell breaks better than age alone? `python -m tests.bench.bench_slips`.

The demo's log, or with `--seeds` logs of the same invented shop with other chance. Taps are held out in turn, in five
parts. The chance that a held-out tap breaks in a run, given its past, comes from the posterior of the other taps; with
slips it is that of `slip_factor`, which learns from taps that are not held out. With its c alone (b = 0) the
comparison shows how much of a gain is not the slips' doing. Scores are means over runs; their standard errors hold for
taps as a whole.

The simulator lets slips rise with the share of life used, tenfold at the end, but for a quarter of the taps that give
no warning: a gain here shows that what is there is found, not that it is there in a shop.
"""

from __future__ import annotations

import argparse
import csv
import math
import tempfile
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from seed.export import write_files
from seed.simulate import simulate
from shopfloor.core.cutting import speed_band
from shopfloor.core.observations import FloatArray
from shopfloor.core.pool.conditions import Condition, Histories, History, Use
from shopfloor.core.pool.curves import MOST_LOG_HAZARD, spent
from shopfloor.core.pool.laws import Laws, draw, weights
from shopfloor.core.pool.posterior import Posterior, posterior
from shopfloor.core.pool.risk import chances, used_up
from shopfloor.core.threads import major_diameter_mm
from shopfloor.core.vocabulary import DepthControl, IsoGroup, Mode, TapEnd
from tests.bench.slip_factor import NO_FACTOR, SeenRuns, foretold, learned, mean_by_taps, rise

DEMO = Path(__file__).parents[2] / "seed" / "csv"
PARTS, RECENT = 5, 3


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
    """A run of a held-out tap: growth of -log S under each law, the laws' weights, the slips' x, and what happened."""

    part: int
    tap: str
    growth: FloatArray
    weight: FloatArray
    x: float
    broke: bool


def read(folder: Path) -> list[Life]:
    """Every life whose holes are known from the start."""

    def rows(name: str) -> list[dict[str, str]]:
        with (folder / f"{name}.csv").open(newline="") as file:
            return list(csv.DictReader(file))

    words = {word.value: word for word in IsoGroup}
    groups = {row["code"]: words[row["ISO group"]] for row in rows("materials")}
    runs = rows("runs")
    left: dict[str, int] = defaultdict(int)
    read_runs: dict[str, list[Run]] = defaultdict(list)
    for row in reversed(runs):
        left[row["batch"]] += int(row["holes"])
        read_runs[row["tap"]].insert(0, _run(row, left[row["batch"]], groups))
    return [
        Life(row["code"].split("-")[0], int(row["holes before"]), tuple(read_runs[row["code"]]))
        for row in rows("taps") if row["holes before"] != "unknown" and row["code"] in read_runs
    ]  # fmt: skip


def _run(row: Mapping[str, str], planned: int, groups: Mapping[str, IsoGroup]) -> Run:
    band = speed_band(float(row["rpm"]), major_diameter_mm(row["thread"]))
    condition = Condition(row["tap type"], row["material"], groups[row["material"]], math.sqrt(band.low * band.high))
    is_broken = row["tap end"] == TapEnd.BROKEN.value
    at_bottom = row["depth control"] == DepthControl.CLUTCH.value
    made, broke_at = int(row["holes"]), int(row["broke at hole"]) if row["broke at hole"] else None
    return Run(
        condition, planned if is_broken else made, broke_at or made, broke_at, is_broken,
        int(row["cutting slips"] or 0), row["cutting slips"] != "" and not at_bottom,
    )  # fmt: skip


def told_by_others(lives: Sequence[Life], seed: int = 1) -> list[Told]:
    """Every run of every tap, by what the taps of the other parts tell."""
    taps = sorted({life.tap for life in lives})
    part_of = dict(zip(taps, np.random.default_rng(seed).permutation(np.arange(len(taps)) % PARTS), strict=True))
    conditions = tuple(dict.fromkeys(run.condition for life in lives for run in life.runs))
    places = {condition: i for i, condition in enumerate(conditions)}
    told: list[Told] = []
    for part in range(PARTS):
        others = [life for life in lives if part_of[life.tap] != part]
        known = posterior(Histories.of([life.history(places) for life in others]), conditions, Mode.BREAK.value)
        usual = _usual_slips(others)
        for life in lives:
            if part_of[life.tap] == part:
                told += _told_of(life, part, known, usual)
    return told


Rates = Mapping[tuple[str, str], float]


def _usual_slips(lives: Sequence[Life]) -> Rates:
    """Slips per hole of each tap type in each material, leaning on the material's as on 200 holes."""
    counts: dict[tuple[str, str], list[float]] = defaultdict(lambda: [0.0, 0.0])
    for life in lives:
        for run in life.runs:
            if run.counts_slips:
                for key in ((run.condition.family, run.condition.material), ("", run.condition.material), ("", "")):
                    counts[key][0] += run.slips
                    counts[key][1] += run.made

    def rate(key: tuple[str, str], lean: float) -> float:
        slips, holes = counts[key]
        return (slips + 200 * lean) / (holes + 200)

    whole = rate(("", ""), 0.0)
    return defaultdict(lambda: whole, {key: rate(key, rate(("", key[1]), whole)) for key in list(counts)})


def _told_of(life: Life, part: int, known: Posterior, usual: Rates) -> Iterator[Told]:
    past: dict[Condition, float] = {}
    for i, run in enumerate(life.runs):
        here = past.pop(run.condition, float(life.before) if i == 0 else 0.0)
        past[run.condition] = here
        laws = draw(known, tuple(past))
        holes = list(past.values())
        chance = chances([laws], holes, run.planned)
        growth = -np.log1p(-np.minimum(chance, 1 - 1e-12))
        yield Told(part, life.tap, growth, _given(laws, holes), _rise(life.runs[:i], usual), run.is_broken)
        past[run.condition] = here + run.made


def _given(laws: Laws, holes: Sequence[float]) -> FloatArray:
    """Weights of the laws given that the tap has lasted until now."""
    log_used = np.log(np.maximum(used_up(laws, holes), 1e-300))
    hazard = np.exp(np.minimum(np.exp(laws.log_shape[:, -1]) * log_used, MOST_LOG_HAZARD))
    return weights([replace(laws, log_weight=laws.log_weight - spent(hazard, laws.frailty))])


def _rise(runs: Sequence[Run], usual: Rates) -> float:
    """How far the slips of the last runs that counted them are above the usual number."""
    counted = [run for run in runs if run.counts_slips][-RECENT:]
    expected = sum(run.made * usual[run.condition.family, run.condition.material] for run in counted)
    return rise(sum(run.slips for run in counted), expected)


def compared(lives: Sequence[Life]) -> None:
    """Print the scores of the three ways to tell, and what the shop would learn."""
    told = told_by_others(lives)
    columns = zip(*((one.growth, one.weight, one.x, one.broke, one.tap) for one in told), strict=True)
    runs = SeenRuns.of(*(list(column) for column in columns))
    print(f"{len(told)} runs of {int(runs.tap.max()) + 1} taps, {int(runs.broke.sum())} breaks")
    base = NO_FACTOR.scores(runs)
    ways = {"by age": base, "by age, c fitted": foretold(runs, with_slips=False), "with slips": foretold(runs)}
    for name, scores in ways.items():
        gain, error = mean_by_taps(scores - base, runs.tap)
        spared, doubt = mean_by_taps(_brier(base) - _brier(scores), runs.tap)
        least = _brier(base).mean() / 100
        print(
            f"  {name:17} log score {scores.mean():.4f} (better by {1000 * gain:5.2f} +- {1000 * error:.2f} in 1,000)"
            f"  Brier {_brier(scores).mean():.4f} (better by {spared / least:4.1f} +- {doubt / least:.1f} %)"
        )
    print(f"  learned: {learned(runs)}")


def _brier(scores: FloatArray) -> FloatArray:
    """(chance - what happened)^2, from the log of the chance of what happened."""
    return np.asarray((1 - np.exp(scores)) ** 2)


def main() -> None:
    """Print the comparison for the demo's log, and for others of its kind."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, nargs="*", default=[])
    print("the demo's log", end=": ")
    compared(read(DEMO))
    for seed in parser.parse_args().seeds:
        with tempfile.TemporaryDirectory() as folder:
            write_files(simulate(datetime.now(UTC), seed), Path(folder))
            print(f"seed {seed}", end=": ")
            compared(read(Path(folder)))


if __name__ == "__main__":
    main()
