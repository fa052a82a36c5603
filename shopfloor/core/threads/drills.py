"""Tap drills: the handbook's usual drill for a thread, and the nearest drills for a wanted percentage."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from shopfloor.core.threads.dimensions import Limits, classes_of, limits
from shopfloor.core.threads.drill_series import Drill, find_drill, standard_drills
from shopfloor.core.threads.percent import drill_for_percent, percent_of_thread
from shopfloor.core.threads.series import Designation, Series

USUAL_PERCENT = 75.0
USUAL_PERCENT_FORMING = 65.0
"""Percentage taken where none is asked for. Common practice, no source."""

_INCH = {
    Series.UNC: """#1-64:#53 #2-56:#50 #3-48:#47 #4-40:#43 #5-40:#38 #6-32:#36 #8-32:#29 #10-24:#25 #12-24:#16 1/4-20:#7
        5/16-18:F 3/8-16:5/16 7/16-14:U 1/2-13:27/64 9/16-12:31/64 5/8-11:17/32 3/4-10:21/32 7/8-9:49/64 1-8:7/8
        1_1/8-7:63/64 1_1/4-7:1_7/64 1_3/8-6:1_7/32 1_1/2-6:1_11/32 1_3/4-5:1_9/16 2-4.5:1_25/32""",
    Series.UNF: """#0-80:3/64 #1-72:#53 #2-64:#50 #3-56:#45 #4-48:#42 #5-44:#37 #6-40:#33 #8-36:#29 #10-32:#21
        #12-28:#14 1/4-28:#3 5/16-24:I 3/8-24:Q 7/16-20:25/64 1/2-20:29/64 9/16-18:33/64 5/8-18:37/64 3/4-16:11/16
        7/8-14:13/16 1-12:59/64 1_1/8-12:1_3/64 1_1/4-12:1_11/64 1_3/8-12:1_19/64 1_1/2-12:1_27/64""",
    Series.NPT: """1/16-27:D 1/8-27:R 1/4-18:7/16 3/8-18:37/64 1/2-14:23/32 3/4-14:59/64 1-11.5:1_5/32
        1_1/4-11.5:1_1/2 1_1/2-11.5:1_47/64 2-11.5:2_7/32 2_1/2-8:2_5/8 3-8:3_1/4 3_1/2-8:3_3/4 4-8:4_1/4""",
}
"""The usual drills of Machinery's Handbook, tap drill sizes (NPT: drilled, not reamed)."""

_G_MM = {
    "1/16": 6.8, "1/8": 8.8, "1/4": 11.8, "3/8": 15.25, "1/2": 19.0, "5/8": 21.0, "3/4": 24.5, "7/8": 28.25,
    "1": 30.75, "1 1/8": 35.5, "1 1/4": 39.5, "1 1/2": 45.0, "1 3/4": 51.0, "2": 57.0,
}  # fmt: skip
"""Usual drills of G threads; larger ones are bored. Common practice, no source."""

_METRIC_EXCEPTIONS_MM = {(4.5, 0.75): 3.7}
_BY_TENTHS_ABOVE_MM = 3.5


@dataclass(frozen=True)
class TapDrill:
    """A drill for a thread.

    Attributes
    ----------
    drill
    percent             percentage of thread it gives; None for taper threads
    is_usual            whether it is the handbook's
    is_within_limits    whether its hole lies within the limits of the minor diameter; None where neither standard nor
                        tap sets any
    """

    drill: Drill
    percent: float | None
    is_usual: bool
    is_within_limits: bool | None


@cache
def _usual_names() -> dict[tuple[Series, str, float], str]:
    return dict(_entry(series, entry.replace("_", " ")) for series, text in _INCH.items() for entry in text.split())


def _entry(series: Series, entry: str) -> tuple[tuple[Series, str, float], str]:
    name, _, drill = entry.partition(":")
    size, _, threads = name.rpartition("-")
    return (series, size, float(threads)), drill


def usual_drill(thread: Designation) -> Drill | None:
    """The drill that handbooks print for a cutting tap; None where the table has none.

    Notes
    -----
    Metric: major diameter less pitch, to the nearest even tenth where that falls between two tenths (M12: 10.2,
    M8: 6.8), as ISO 2306 does; M4.5: 3.7.

    References
    ----------
    Machinery's Handbook, tap drill sizes (Unified, NPT); ISO 2306 (metric)
    """
    if thread.series.is_metric:
        return find_drill(f"{_metric_drill_mm(thread):g} mm")
    if thread.series is Series.G:
        return find_drill(f"{_G_MM[thread.size]:g} mm") if thread.size in _G_MM else None
    name = _usual_names().get((thread.series, thread.size, thread.tpi))
    return find_drill(name) if name else None


def _metric_drill_mm(thread: Designation) -> float:
    exception = _METRIC_EXCEPTIONS_MM.get((thread.major_mm, thread.pitch_mm))
    hundredths = round(100 * (thread.major_mm - thread.pitch_mm))
    tenths, rest = divmod(hundredths, 10)
    if hundredths > 100 * _BY_TENTHS_ABOVE_MM and rest == 5 and thread.major_mm < 14.5:
        hundredths = 10 * (tenths + tenths % 2)
    return exception or hundredths / 100


def tap_drills(
    thread: Designation, percent: float | None = None, *, forming: bool = False, most: int = 8
) -> list[TapDrill]:
    """Drills for a thread, the one to take first.

    Parameters
    ----------
    thread : Designation
    percent : float or None     wanted percentage of thread, above 0 and up to 100; None: the usual drill comes first
    forming : bool              for a forming tap
    most : int                  how many to offer

    Returns
    -------
    list of TapDrill            first the usual drill (nothing asked, cutting tap), else the nearest of the thread's own
                                unit (nothing asked: within the limits of the minor diameter); then by nearness to the
                                wanted hole, drills of the other unit among them. Empty where no drill is large enough:
                                such holes are bored.

    Raises
    ------
    InputError                  a percentage out of range, or asked for a taper thread
    """
    usual = None if forming else usual_drill(thread)
    if thread.series is Series.NPT:
        if percent is not None or forming:
            percent_of_thread(thread, thread.major_mm, forming=forming)
        return [_choice(thread, usual, usual, None, forming=forming)] if usual else []
    wanted = percent if percent is not None else USUAL_PERCENT_FORMING if forming else USUAL_PERCENT
    hole_mm = float(drill_for_percent(thread, wanted, forming=forming))
    bounds = limits(thread, thread.thread_class) if classes_of(thread) and not forming else None
    near = [_choice(thread, drill, usual, bounds, forming=forming) for drill in _nearest(thread, hole_mm)]
    if not near or (thread.series is Series.G and usual is None and percent is None):
        return []
    first = _first(thread, near, is_asked=percent is not None)
    return [first, *(choice for choice in near if choice != first)][:most]


def _first(thread: Designation, near: list[TapDrill], *, is_asked: bool) -> TapDrill:
    """The usual drill; else the nearest of the thread's unit, within the limits if any drill is and no percentage was
    asked.
    """
    own = [choice for choice in near if choice.drill.is_inch == thread.is_inch]
    if is_asked:
        return own[0]
    usual = [choice for choice in near if choice.is_usual]
    within = [choice for choice in [*own, *near] if choice.is_within_limits]
    return [*usual, *within, *own][0]


def _nearest(thread: Designation, hole_mm: float) -> list[Drill]:
    """Drills by nearness to a hole, the larger first of two equally near; none if the hole is beyond all."""
    drills = [drill for drill in standard_drills() if drill.diameter_mm < thread.major_mm]
    largest = max(drill.diameter_mm for drill in drills if drill.is_inch == thread.is_inch)
    if hole_mm > largest and largest < thread.major_mm - thread.pitch_mm:
        return []
    return sorted(drills, key=lambda drill: (round(abs(drill.diameter_mm - hole_mm), 6), -drill.diameter_mm))


def _choice(
    thread: Designation, drill: Drill, usual: Drill | None, bounds: Limits | None, *, forming: bool
) -> TapDrill:
    is_taper = thread.series is Series.NPT
    percent = None if is_taper else float(percent_of_thread(thread, drill.diameter_mm, forming=forming))
    within = None if bounds is None else bounds.minor_min_mm <= drill.diameter_mm <= bounds.minor_max_mm
    return TapDrill(drill, percent, drill == usual, within)
