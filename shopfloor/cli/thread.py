"""`shopfloor thread`: dimensions, limits and tap drills of one standard thread."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import click

from shopfloor.cli.numbers import NUMBER, print_json
from shopfloor.core.phrases import rounded

if TYPE_CHECKING:
    from shopfloor.core.threads.drills import TapDrill
    from shopfloor.core.threads.series import Designation

Answer = dict[str, Any]


_HELP = """What a thread measures and which drill it needs: 3/8-16, "#10-32 UNF-2B", M8x1, "G 1/4", "1/8-27 NPT".

\b
Keys of the JSON object (null where the standard gives no value):
  designation, series, class
  major_mm, pitch_mm, pitch_diameter_mm  basic diameters and pitch; NPT: outside
                       diameter of the pipe, pitch diameter at the hand-tight plane
  minor_mm             basic minor diameter of the internal thread
  root_mm, height_mm   root of the external thread; (major - minor) / 2
  stress_area_mm2      tensile stress area
  major_in, tpi, pitch_in, pitch_diameter_in, minor_in, root_in, height_in,
  stress_area_in2      the same in inches
  tap_drill_name, tap_drill_mm, tap_drill_in   the first choice of drill
  thread_percent       what that drill gives: depth 0.6495 P a side is 100 %
                       (--forming: the forming formula)
  limits               {class: {major_min_mm, minor_min_mm, minor_max_mm,
                       pitch_diameter_min_mm, pitch_diameter_max_mm, and ..._in}}
  drills               list of {name, mm, inch, percent, is_usual, is_within_limits}
  forming, wanted_percent                      what was asked
  taper                NPT only: {e0_mm, e1_mm, e2_mm, l1_mm, l2_mm}
"""


@click.command("thread", help=_HELP)
@click.argument("designation")
@click.option("--class", "thread_class", metavar="CLASS", help="2B or 3B; 5H, 6H or 7H. Default: every class.")
@click.option("--percent", type=NUMBER, help="Wanted percentage of thread. Default: the handbook's usual drill first.")
@click.option("--forming", is_flag=True, help="Drills for a forming tap.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(designation: str, thread_class: str | None, percent: float | None, forming: bool, as_json: bool) -> None:
    """Print dimensions, limits and drills of one thread."""
    from shopfloor.core.threads.designations import parse, with_class

    thread = parse(designation)
    if thread_class is not None:
        thread = with_class(thread, thread_class)
    answer = _answer(thread, percent, forming=forming)
    if as_json:
        print_json(answer)
    else:
        click.echo("\n".join(_lines(answer)))


def _answer(thread: Designation, percent: float | None, *, forming: bool) -> Answer:
    from shopfloor.core.threads.drills import tap_drills

    drills = tap_drills(thread, percent, forming=forming)
    first = _drill(drills[0]) if drills else dict.fromkeys(("name", "mm", "inch", "percent"))
    return {
        "designation": thread.text,
        "series": thread.series.value,
        "class": thread.thread_class,
        **_dimensions(thread),
        "tap_drill_name": first["name"],
        "tap_drill_mm": first["mm"],
        "tap_drill_in": first["inch"],
        "thread_percent": first["percent"],
        "limits": _limits(thread),
        "drills": [_drill(choice) for choice in drills],
        "forming": forming,
        "wanted_percent": percent,
        **_taper(thread),
    }


def _dimensions(thread: Designation) -> Answer:
    """Basic dimensions in mm and in inches."""
    from shopfloor.core.threads.dimensions import dimensions

    metric = asdict(dimensions(thread))
    return metric | _in_inches(metric) | {"tpi": thread.tpi}


def _in_inches(metric: Answer) -> Answer:
    from shopfloor.core.units import MM_PER_INCH

    inches: Answer = {}
    for name, value in metric.items():
        factor = MM_PER_INCH**2 if name.endswith("_mm2") else MM_PER_INCH
        inches[name.replace("_mm", "_in")] = None if value is None else round(value / factor, 9)
    return inches


def _limits(thread: Designation) -> dict[str, Answer]:
    from shopfloor.core.threads.dimensions import classes_of, limits

    classes = (thread.thread_class,) if thread.thread_class else classes_of(thread)
    answer = {}
    for name in classes:
        metric = asdict(limits(thread, name))
        del metric["thread_class"]
        answer[name] = metric | _in_inches(metric)
    return answer


def _drill(choice: TapDrill) -> Answer:
    return {
        "name": choice.drill.name,
        "mm": choice.drill.diameter_mm,
        "inch": choice.drill.diameter_in,
        "percent": choice.percent,
        "is_usual": choice.is_usual,
        "is_within_limits": choice.is_within_limits,
    }


def _taper(thread: Designation) -> Answer:
    from shopfloor.core.threads.pipe import taper_pipe
    from shopfloor.core.threads.series import Series

    return {"taper": asdict(taper_pipe(thread))} if thread.series is Series.NPT else {}


_ROWS = (
    ("major diameter", "major"),
    ("pitch", "pitch"),
    ("pitch diameter", "pitch_diameter"),
    ("minor diameter", "minor"),
    ("external root", "root"),
    ("thread height", "height"),
)


def _lines(answer: Answer) -> Iterator[str]:
    """The answer for people."""
    yield f"{answer['designation']} ({answer['series']}, {rounded(answer['tpi'])} threads per inch)"
    yield f"  {'':24}{'mm':>10}{'inch':>10}"
    for words, name in _ROWS:
        yield f"  {words:24}{_cell(answer[name + '_mm'], 3)}{_cell(answer[name + '_in'], 4)}"
    area = f"{_cell(answer['stress_area_mm2'], 2)}{_cell(answer['stress_area_in2'], 4)}"
    yield f"  {'stress area (mm2, in2)':24}{area}"
    for name, limits in answer["limits"].items():
        yield f"Internal thread, class {name}"
        for words, key in (("minor diameter", "minor"), ("pitch diameter", "pitch_diameter")):
            yield f"  {words:24}{_range(limits, key, 'mm', 3)} mm{_range(limits, key, 'in', 4)} in"
    yield from _drill_lines(answer)


def _range(limits: Answer, key: str, unit: str, decimals: int) -> str:
    ends = (limits[f"{key}_min_{unit}"], limits[f"{key}_max_{unit}"])
    return "  " + " to ".join(f"{end:.{decimals}f}" for end in ends)


def _cell(value: float | None, decimals: int) -> str:
    return f"{'-':>10}" if value is None else f"{value:>10.{decimals}f}"


def _drill_lines(answer: Answer) -> Iterator[str]:
    if not answer["drills"]:
        yield "No drill is large enough; bore the hole"
        return
    yield "Drills for a forming tap" if answer["forming"] else "Drills for a cutting tap"
    for drill in answer["drills"]:
        percent = "" if drill["percent"] is None else f"{drill['percent']:6.1f} % of thread"
        usual = ", usual" if drill["is_usual"] else ""
        outside = ", outside the limits of the minor diameter" if drill["is_within_limits"] is False else ""
        yield f"  {drill['name']:10}{drill['mm']:9.3f} mm{drill['inch']:9.4f} in{percent}{usual}{outside}"
