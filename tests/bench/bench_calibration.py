"""Whether the pooled posterior and the risk of the next batch are honest: `python -m tests.bench.bench_calibration`.

In shops drawn from the pool's own prior: how often 90 % intervals hold the truth and miss it on either side, for groups
by their number of failures; and of the taps in service, how often they fail in the next batch where that was foretold
with a chance of so much. With `--scenarios FILE`, a decision benchmark as `regret_policy` knows it, the risk of batches
also in the shops of its scenarios, which are not drawn from the prior.

Standard errors hold for shops as a whole, since the groups of one shop share what is wrong with it.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from shopfloor.core.decision.failure_probability import chances
from shopfloor.core.hierarchical.inference.posterior import posteriors
from shopfloor.core.hierarchical.model.conditions import Condition, Histories, Use
from shopfloor.core.hierarchical.prediction.draws import Draws, draw, weights
from shopfloor.core.survival.censored_data import BoolArray, FloatArray, Lives
from shopfloor.core.vocabulary import Mode
from tests.bench.regret_policy import ISO_GROUPS, MODES
from tests.core.hierarchical.calibration import FIGURES, standings
from tests.core.hierarchical.prior_shops import BATCHES, draw_shop

BREAK = Mode.BREAK.value
FAILURES = {"all groups": (0, 10**6), "no failure": (0, 0), "1 to 3": (1, 3), "4 to 10": (4, 10), "more": (11, 10**6)}
BINS = 10


@dataclass(frozen=True)
class Foretold:
    """The chance that a tap breaks in its next batch as told, in truth, and whether it did.

    `spread` is the variance of the chance over the posterior: what the log leaves open.
    """

    shop: int
    told: float
    spread: float
    true: float
    broke: bool


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--shops", type=int, default=400)
    parser.add_argument("--batch-shops", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--with-wear", action="store_true", help="shops whose taps also wear")
    parser.add_argument("--scenarios", type=Path)
    parser.add_argument("--design", default="uneven", help="failures of each group in the scenarios (default: 0 to 10)")
    told = parser.parse_args()
    modes = (BREAK, Mode.WEAR.value) if told.with_wear else (BREAK,)
    rng = np.random.default_rng(told.seed)
    coverage(rng, told.shops, modes)
    print_batches("shops drawn from the prior", list(batches(rng, told.batch_shops, modes)))
    if told.scenarios:
        simulator = _module(told.scenarios)
        for scenario in simulator.PUBLIC_SCENARIOS:
            foretold = list(scenario_batches(simulator, scenario, told.batch_shops, told.seed, told.design))
            print_batches(f"scenario {scenario.name}, failures {told.design}", foretold)


def coverage(rng: np.random.Generator, shops: int, modes: Sequence[str]) -> None:
    """Print how often 90 % intervals hold the truth, over all groups and by their failures."""
    rows = [
        (shop, one.failures, *one.of) for shop in range(shops) for one in standings(draw_shop(rng, modes), BREAK)
    ]  # fmt: skip
    table = np.array(rows)
    print(f"{shops} shops drawn from the prior, {len(table)} groups: 90 % intervals, in per cent (standard error)")
    for name, (least, most) in FAILURES.items():
        kept = table[(table[:, 1] >= least) & (table[:, 1] <= most)]
        print(f" {name}, {len(kept)} groups")
        for i, figure in enumerate(FIGURES):
            shares, shop = kept[:, 2 + i], kept[:, 0].astype(int)
            sides = [shares < 0.05, shares > 0.95]
            held = _percent(~(sides[0] | sides[1]), shop)
            print(
                f"  {figure:20} held {held}   truth below {_percent(sides[0], shop)}   above {_percent(sides[1], shop)}"
            )


def batches(rng: np.random.Generator, shops: int, modes: Sequence[str]) -> Iterator[Foretold]:
    """The next batch of every tap in service, in shops drawn from the prior; breaks alone count."""
    for number in range(shops):
        shop = draw_shop(rng, modes)
        known = posteriors(shop.histories, shop.conditions, modes)[BREAK]
        for past in shop.in_service.values():
            holes = float(rng.choice(BATCHES))
            used = _by_condition(past)
            laws = draw(known, [shop.conditions[place] for place in used])
            true = shop.laws[BREAK].chance_of_failing(past, holes)
            yield Foretold(number, *_told(laws, list(used.values()), holes), true, bool(rng.random() < true))


def _told(laws: Draws, past: Sequence[float], holes: float) -> tuple[float, float]:
    """Mean and variance over the posterior of the chance to fail in the next holes."""
    chance, weight = chances([laws], past, holes), weights([laws])
    mean = weight @ chance
    return float(mean), float(weight @ (chance - mean) ** 2)


def _by_condition(past: Sequence[Use]) -> dict[int, float]:
    """Holes by condition, the last one last."""
    used: dict[int, float] = {}
    for use in past:
        used[use.condition] = used.pop(use.condition, 0.0) + use.holes
    return used


def scenario_batches(simulator: Any, scenario: Any, shops: int, seed: int, design: str) -> Iterator[Foretold]:
    """The same in shops of a scenario, failures by its design; each group has one more tap, in service or failed.

    How long that tap was to be used does not depend on the truth, or its survival would tell what nobody can know.
    """
    rng = np.random.default_rng([seed, *scenario.name.encode()])
    for number in range(shops):
        truth = simulator.draw_truth(scenario, rng)
        log, _ = simulator.draw_log(truth, scenario, design, rng)
        conditions = [Condition(g.family, g.material, ISO_GROUPS[g.material], g.speed) for g in log.groups]
        ages = 10 * np.ceil(np.exp(rng.uniform(np.log(20), np.log(600), len(conditions))) / 10)
        last = simulator.draw_lives(truth, scenario, rng, 1, stop=ages)
        log = log.plus(last)
        lives = Lives.of(log.lower, log.upper, log.entry, [MODES[mode] for mode in log.mode])
        modes = [BREAK, *(mode for mode in lives.modes() if mode != BREAK)]
        known = posteriors(Histories.plain(lives, log.group), conditions, modes)[BREAK]
        for place in np.flatnonzero(np.isinf(last.upper)):
            age, holes = float(last.lower[place]), float(rng.choice(BATCHES))
            told = _told(draw(known, [conditions[place]]), [age], holes)
            true = _true_chance(truth, int(place), age, holes)
            yield Foretold(number, *told, true, bool(rng.random() < true))


def _true_chance(truth: Any, place: int, age: float, holes: float) -> float:
    """Chance of a break in the next holes, wear apart, the taps' own spread averaged out."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(21)
    factors = np.exp(truth.frailty_sd * nodes)

    def survival(at: float) -> float:
        hazard = (at / (factors * truth.scale[0][place])) ** truth.shape[0][place]
        return float(weights @ np.exp(-hazard) / weights.sum())

    return 1 - survival(age + holes) / survival(age)


def print_batches(name: str, foretold: Sequence[Foretold]) -> None:
    """Print the bins of told chances, and the Brier score beside that of the true chances."""
    columns = zip(*((one.shop, one.told, one.spread, one.true, one.broke) for one in foretold), strict=True)
    shop, told, spread, true, broke = (np.array(column) for column in columns)
    print(f"{name}: {len(told)} batches of {len(set(shop))} shops, in per cent (standard error)")
    outside = 0
    for rows in np.array_split(np.argsort(told, kind="stable"), BINS):
        # Where nothing broke the spread of what was seen would be 0: then it is that of what was told.
        error = max(
            _error(broke[rows] - told[rows], shop[rows]), float(np.sqrt((told * (1 - told))[rows].sum()) / len(rows))
        )
        outside += int(abs((broke - told)[rows].mean()) > 2 * error)
        print(
            f"  told {100 * told[rows].mean():5.1f}   broke {100 * broke[rows].mean():5.1f} ({100 * error:.1f})   "
            f"true {100 * true[rows].mean():5.1f} ({100 * _error((true - told)[rows], shop[rows]):.1f})"
        )
    score, least = float(np.mean((told - broke) ** 2)), float(np.mean((true - broke) ** 2))
    unknown = np.mean(true * (1 - true)) / 100
    print(
        f"  {outside} of {BINS} bins off by over 2 standard errors; Brier score {score:.4f}, of the truth {least:.4f};"
        f" by the true chances {np.mean((told - true) ** 2) / unknown:.1f} % above it,"
        f" {spread.mean() / unknown:.1f} % by what the posterior says that it does not know"
    )


def _percent(happened: BoolArray, shop: FloatArray) -> str:
    values = happened.astype(float)
    return f"{100 * values.mean():5.1f} ({100 * _error(values, shop):.1f})"


def _error(values: FloatArray, shop: FloatArray) -> float:
    """Standard error of a mean whose values come in shops."""
    sums = np.bincount(shop, values - values.mean())
    return float(np.sqrt((sums**2).sum()) / len(values))


def _module(path: Path) -> Any:
    """The simulator in a file of its own."""
    told = importlib.util.spec_from_file_location("scenarios", path)
    assert told is not None
    assert told.loader is not None
    module = importlib.util.module_from_spec(told)
    sys.modules["scenarios"] = module
    told.loader.exec_module(module)
    return module


if __name__ == "__main__":
    main()
