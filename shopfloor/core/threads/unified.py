"""Unified inch threads: standard sizes, and tolerances of the internal thread.

References: ASME B1.1, Unified inch screw threads, tables of standard series and section 5 (formulas for limits of
size). Sizes and formulas from memory of the standard; tests compare them with its printed limits.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.threads.series import Designation, Floats, Series, fraction_text, positive
from shopfloor.core.units import MM_PER_INCH

_UNC = """#1-64 #2-56 #3-48 #4-40 #5-40 #6-32 #8-32 #10-24 #12-24 1/4-20 5/16-18 3/8-16 7/16-14 1/2-13 9/16-12 5/8-11
3/4-10 7/8-9 1-8 1_1/8-7 1_1/4-7 1_3/8-6 1_1/2-6 1_3/4-5 2-4.5 2_1/4-4.5 2_1/2-4 2_3/4-4 3-4 3_1/4-4 3_1/2-4 3_3/4-4
4-4"""
_UNF = """#0-80 #1-72 #2-64 #3-56 #4-48 #5-44 #6-40 #8-36 #10-32 #12-28 1/4-28 5/16-24 3/8-24 7/16-20 1/2-20 9/16-18
5/8-18 3/4-16 7/8-14 1-12 1_1/8-12 1_1/4-12 1_3/8-12 1_1/2-12"""
_UNEF = """#12-32 1/4-32 5/16-32 3/8-32 7/16-28 1/2-28 9/16-24 5/8-24 11/16-24 3/4-20 13/16-20 7/8-20 15/16-20 1-20
1_1/16-18 1_1/8-18 1_3/16-18 1_1/4-18 1_5/16-18 1_3/8-18 1_7/16-18 1_1/2-18 1_9/16-18 1_5/8-18 1_11/16-18"""
_UN_8 = [*(Fraction(n, 16) for n in range(17, 32)), *(Fraction(n, 8) for n in range(16, 33))]
"""The 8-thread series from 1 in (there it is the coarse thread) to 4 in: by sixteenths to 2 in, then by eighths."""

_PITCH_DIAMETER_FACTOR = {"2B": 1.3, "3B": 0.975}
_SMALLEST_FRACTIONAL_IN = 0.25
_COARSEST_OF_THE_QUADRATIC_RULE = 4
_FINEST_OF_THE_COARSE_RULE_3B = 12
_TABLE_DECIMALS = 4


def number_size_in(number: int) -> Fraction:
    """Major diameter of a numbered size, in inches: 0.060 + 0.013 x number (ASME B1.1)."""
    return Fraction(60 + 13 * number, 1000)


def sizes() -> list[Designation]:
    """Every standard Unified thread of this package, coarse first."""
    listed = [(Series.UNC, _UNC), (Series.UNF, _UNF), (Series.UNEF, _UNEF)]
    named = [(series, *_parts(entry)) for series, text in listed for entry in text.split()]
    named += [(Series.UN_8, fraction_text(size), "8") for size in _UN_8]
    return [_thread(*name) for name in named]


def _parts(entry: str) -> tuple[str, str]:
    size, _, tpi = entry.replace("_", " ").rpartition("-")
    return size, tpi


def _thread(series: Series, size: str, tpi: str) -> Designation:
    inches = number_size_in(int(size[1:])) if size.startswith("#") else sum(map(Fraction, size.split()), Fraction(0))
    return Designation(series, size, round(float(inches) * MM_PER_INCH, 9), MM_PER_INCH / float(tpi))


def pitch_diameter_tolerance_in(
    major_in: ArrayLike, pitch_in: ArrayLike, engagement_in: ArrayLike, thread_class: str
) -> Floats:
    """Tolerance of the internal thread's pitch diameter, in inches.

    Parameters
    ----------
    major_in, pitch_in : array_like, in      basic major diameter, pitch
    engagement_in : array_like, in           length of engagement: the diameter for UNC and UNF, else nine pitches
    thread_class : str                       '2B' or '3B'

    Notes
    -----
    1.3 (2B) or 0.975 (3B) times the tolerance of an external thread of class 2A,
    0.0015 D^(1/3) + 0.0015 LE^(1/2) + 0.015 P^(2/3), which is rounded to six decimals.

    References
    ----------
    ASME B1.1, section 5.8.1
    """
    D, P = positive("major", major_in, "in"), positive("pitch", pitch_in, "in")
    LE = positive("engagement", engagement_in, "in")
    external_2a = 0.0015 * np.cbrt(D) + 0.0015 * np.sqrt(LE) + 0.015 * np.cbrt(P) ** 2
    return np.asarray(_PITCH_DIAMETER_FACTOR[thread_class] * np.round(external_2a, 6))


def minor_tolerance_in(major_in: ArrayLike, pitch_in: ArrayLike, thread_class: str) -> Floats:
    """Tolerance of the internal thread's minor diameter, in inches.

    Parameters
    ----------
    major_in, pitch_in : array_like, in
    thread_class : str                       '2B' or '3B'

    Notes
    -----
    The small-size rule 0.05 P^(2/3) + 0.03 P/D - 0.002 is kept between a floor and 0.394 P. It holds for 3B of every
    size, and for 2B below 1/4 in; from there 2B has 0.25 P - 0.4 P^2, or 0.15 P where there are fewer than 4 threads
    an inch.

    References
    ----------
    ASME B1.1, section 5.8.2
    """
    D, P = positive("major", major_in, "in"), positive("pitch", pitch_in, "in")
    quadratic = 0.25 * P - 0.4 * P**2
    if thread_class == "3B":
        coarse = P * _FINEST_OF_THE_COARSE_RULE_3B >= 1 - 1e-12
        return _small_size_rule(D, P, np.where(coarse, 0.12 * P, 0.23 * P - 1.5 * P**2))
    large = np.where(P * _COARSEST_OF_THE_QUADRATIC_RULE > 1 + 1e-12, 0.15 * P, quadratic)
    return np.where(D >= _SMALLEST_FRACTIONAL_IN, large, _small_size_rule(D, P, quadratic))


def _small_size_rule(D: Floats, P: Floats, floor: Floats) -> Floats:
    return np.asarray(np.maximum(np.minimum(0.05 * np.cbrt(P) ** 2 + 0.03 * P / D - 0.002, 0.394 * P), floor))


def limits_in(thread: Designation, thread_class: str) -> tuple[float, float, float, float]:
    """Least and largest minor diameter, least and largest pitch diameter of the internal thread, in inches.

    Notes
    -----
    As in the tables, basic diameter and tolerance are rounded to four decimals before they are added. The tables print
    the minor diameter of class 2B from #6 up to three decimals only; here all have four.
    """
    D, P = thread.major_in, 1 / thread.tpi
    engagement = D if thread.series in (Series.UNC, Series.UNF) else 9 * P
    minor, pitch = _rounded(D - 1.08253175 * P), _rounded(D - 0.64951905 * P)
    minor_tolerance = _rounded(float(minor_tolerance_in(D, P, thread_class)))
    pitch_tolerance = _rounded(float(pitch_diameter_tolerance_in(D, P, engagement, thread_class)))
    return minor, round(minor + minor_tolerance, 4), pitch, round(pitch + pitch_tolerance, 4)


def _rounded(value_in: float) -> float:
    return round(value_in, _TABLE_DECIMALS)
