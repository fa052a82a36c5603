"""`shopfloor life`: fits a life table, or takes a law as given, and answers what follows from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shopfloor.cli.numbers import NUMBER, between, ends, finite, print_json, short
from shopfloor.core.counting import counted

if TYPE_CHECKING:
    from shopfloor.core.fit import LifeResult
    from shopfloor.core.observations import Lives
    from shopfloor.core.weibull import Weibull

Answer = dict[str, Any]


@dataclass(frozen=True)
class Questions:
    """What is asked beyond the law itself."""

    costs: tuple[float, float] | None
    batch: tuple[float, float] | None


@click.command("life")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@click.option("--level", type=NUMBER, default=0.90, show_default=True, help="Level of the intervals.")
@click.option(
    "--interval",
    default="profile",
    show_default=True,
    help="How intervals are made: 'profile' is profile likelihood; 'calibrated' holds its level with few failures.",
)
@click.option("--cost-planned", type=NUMBER, help="Whole cost of a change in time; prints when to change.")
@click.option("--cost-failure", type=NUMBER, help="Whole cost of a failure.")
@click.option("--age", type=NUMBER, help="Holes on the tap; prints its risk in the next ones.")
@click.option("--next", "next_holes", type=NUMBER, help="Holes to come.")
@click.option("--shape", type=NUMBER, help="Shape of a given Weibull law, in place of FILE.")
@click.option("--scale", type=NUMBER, help="Scale of a given Weibull law.")
def command(file: Path | None, as_json: bool, level: float, interval: str, **numbers: float | None) -> None:
    """How long taps live: fit the life table in FILE.

    FILE is a CSV with the columns lower, upper (equal: failed at that age; empty upper: not failed; else failed in
    between) and, where wanted, entry (age when first followed), mode (of failure) and count.
    """
    costs, batch = _pair(numbers, "cost_planned", "cost_failure"), _pair(numbers, "age", "next_holes")
    law = _pair(numbers, "shape", "scale")
    if (file is None) == (law is None):
        raise click.UsageError("Give either FILE or both --shape and --scale.")
    questions = Questions(costs, batch)
    if file is not None:
        answer = _from_file(file, level, interval, questions)
    elif law is not None:
        answer = _from_law(*law, questions)
    if as_json:
        print_json(_json(answer))
    else:
        click.echo("\n".join(_lines(answer)))


def _pair(numbers: dict[str, float | None], first: str, second: str) -> tuple[float, float] | None:
    """Both numbers, or neither."""
    one, other = numbers[first], numbers[second]
    if one is not None and other is not None:
        return one, other
    if one is not None or other is not None:
        names = ["--" + name.replace("_", "-").replace("next-holes", "next") for name in (first, second)]
        raise click.UsageError(f"Give both {names[0]} and {names[1]}, or neither.")
    return None


def _from_file(file: Path, level: float, interval: str, questions: Questions) -> Answer:
    """The answer for a life table."""
    from shopfloor.core.fit import fit_modes, fit_weibull
    from shopfloor.core.lifetable import read_lives
    from shopfloor.core.replacement import advise_replacement

    lives = read_lives(file)
    fit = fit_weibull(lives, level, interval)
    by_mode = fit_modes(lives, level, interval)
    modes = {mode: _fit(result) | _goodness(lives.of_mode(mode), result) for mode, result in by_mode.items()}
    answer: Answer = {"weibull": _fit(fit) | _goodness(lives, fit), "modes": modes}
    if questions.costs:
        advice = advise_replacement(fit, *questions.costs)
        answer["replacement"] = _plan(advice.plan) | {
            "saving_interval": advice.saving_interval,
            "gain": advice.gain,
            "reason": advice.reason,
        }
    if questions.batch:
        risk = fit.risk(*questions.batch)
        answer |= {"risk": risk.value, "risk_interval": (risk.lower, risk.upper)}
    return answer


def _from_law(shape: float, scale: float, questions: Questions) -> Answer:
    """The answer for a law taken as given: no evidence, so no intervals."""
    from shopfloor.core.replacement import replacement_age, why_no_gain
    from shopfloor.core.weibull import Weibull

    law = Weibull(shape, scale)
    answer: Answer = {"weibull": _law(law), "modes": {}}
    if questions.costs:
        plan = replacement_age(law, *questions.costs)
        reason = why_no_gain(law, plan, *questions.costs) or "Changing in time saves, if the law is as given"
        answer["replacement"] = _plan(plan) | {"saving_interval": None, "reason": reason}
    if questions.batch:
        answer |= {"risk": float(law.chance_of_failing(*questions.batch)), "risk_interval": None}
    return answer


def _law(law: Weibull | None) -> Answer:
    if law is None:
        return {"shape": None, "scale": None, "life_10": None}
    return {"shape": law.shape, "scale": law.scale, "life_10": float(law.quantile(0.1))}


def _fit(fit: LifeResult) -> Answer:
    """A fit with its intervals and evidence, or why there is none and what holds all the same."""
    from shopfloor.core.fit import WeibullFit

    answer = _law(fit.weibull if isinstance(fit, WeibullFit) else None) | {
        "log_likelihood": fit.log_likelihood if isinstance(fit, WeibullFit) else None,
        "shape_mle": fit.most_likely.shape if isinstance(fit, WeibullFit) else None,
        "scale_mle": fit.most_likely.scale if isinstance(fit, WeibullFit) else None,
        "failures": fit.evidence.failures,
        "lives": fit.evidence.taps,
        "holes": fit.evidence.holes,
        "shape_interval": fit.shape_interval,
        "scale_interval": fit.scale_interval,
        "life_10_interval": fit.life_interval(0.1),
        "level": fit.level,
        "method": fit.method,
    }
    return answer if isinstance(fit, WeibullFit) else answer | {"reason": fit.reason, "enough": fit.enough}


def _goodness(lives: Lives, fit: LifeResult) -> Answer:
    """Whether the lives look as a Weibull law would have them."""
    from shopfloor.core.goodness import goodness_of_fit

    found = goodness_of_fit(lives, fit)
    return {"goodness": found.verdict, "goodness_chance": found.chance}


def _plan(plan: Any) -> Answer:
    names = ("age", "cost_per_hole", "cost_per_hole_run_to_failure", "saving")
    return {name: None if plan is None else getattr(plan, name) for name in names}


def _json(answer: Any) -> Any:
    """The answer with every number finite or null."""
    if isinstance(answer, dict):
        return {key: _json(value) for key, value in answer.items()}
    if isinstance(answer, tuple):
        return ends(answer)
    return finite(answer) if isinstance(answer, float) else answer


def _lines(answer: Answer) -> Iterator[str]:
    """The answer for people."""
    yield from _fit_lines("All failures", answer["weibull"])
    for mode, fit in answer["modes"].items():
        yield from _fit_lines(f"Mode '{mode}'", fit)
    if "replacement" in answer:
        yield from _replacement_lines(answer["replacement"])
    if "risk" in answer:
        yield "Risk in the next holes"
        if answer["risk"] is not None:
            yield f"  chance of failing: {short(answer['risk'])}"
        if answer["risk_interval"] is not None:
            yield f"  interval: {between(answer['risk_interval'])}"


def _fit_lines(title: str, fit: Answer) -> Iterator[str]:
    yield title
    if "lives" in fit:
        known = ((fit["lives"], "tap"), (fit["failures"], "failure"), (fit["holes"], "hole"))
        yield f"  evidence: {', '.join(counted(*one) for one in known)}"
    if "reason" in fit:
        yield f"  no fit: {fit['reason']}"
        yield f"  enough would be: {fit['enough']}"
    for name, words in (("shape", "shape"), ("scale", "scale"), ("life_10", "age by which 10 % fail")):
        interval = fit.get(f"{name}_interval")
        bound = "" if interval is None else f" ({100 * fit['level']:g} % interval: {between(interval)})"
        yield f"  {words}: {short(fit[name])}{bound}"
    if fit.get("goodness_chance") is not None:
        yield f"  Weibull law: {fit['goodness']} (lives as odd as these come by chance {fit['goodness_chance']:.0%})"


def _replacement_lines(plan: Answer) -> Iterator[str]:
    yield "Change in time"
    yield f"  {plan['reason']}"
    if plan["cost_per_hole"] is not None:
        yield f"  cheapest age: {'none' if plan['age'] is None else short(plan['age'])}"
        yield f"  cost per hole: {short(plan['cost_per_hole'])}"
        yield f"  cost per hole when run to failure: {short(plan['cost_per_hole_run_to_failure'])}"
        range_ = "" if plan["saving_interval"] is None else " ({:.1%} to {:.1%})".format(*plan["saving_interval"])
        yield f"  saving: {plan['saving']:.1%}{range_}"
