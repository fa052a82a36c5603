"""ISO metric threads: standard sizes, and tolerances of the internal thread.

References: ISO 261 and ISO 262 (sizes and pitches), ISO 965-1 (tolerances; its tables round to preferred numbers of
the series R40 and are authoritative). Sizes, formulas and where the tables differ from them: from memory of the
standards; tests compare them with printed limits.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.threads.series import Designation, Floats, Series, positive

COARSE_PITCH_MM = {
    1.0: 0.25, 1.1: 0.25, 1.2: 0.25, 1.4: 0.3, 1.6: 0.35, 1.8: 0.35, 2.0: 0.4, 2.2: 0.45, 2.5: 0.45, 3.0: 0.5, 3.5: 0.6,
    4.0: 0.7, 4.5: 0.75, 5.0: 0.8, 6.0: 1.0, 7.0: 1.0, 8.0: 1.25, 9.0: 1.25, 10.0: 1.5, 11.0: 1.5, 12.0: 1.75,
    14.0: 2.0, 16.0: 2.0, 18.0: 2.5, 20.0: 2.5, 22.0: 2.5, 24.0: 3.0, 27.0: 3.0, 30.0: 3.5, 33.0: 3.5, 36.0: 4.0,
    39.0: 4.0, 42.0: 4.5, 45.0: 4.5, 48.0: 5.0, 52.0: 5.0, 56.0: 5.5, 60.0: 5.5, 64.0: 6.0,
}  # fmt: skip
"""Coarse pitches, ISO 261, M1 to M64."""

_FINE_PITCHES_MM = {
    0.2: "1 1.1 1.2 1.4 1.6 1.8",
    0.25: "2 2.2",
    0.35: "2.5 3 3.5",
    0.5: "4 4.5 5 5.5",
    0.75: "6 7 8 9 10 11",
    1.0: "8 9 10 11 12 14 15 16 17 18 20 22 24 25 27 28 30",
    1.25: "10 12 14",
    1.5: "12 14 15 16 17 18 20 22 24 25 26 27 28 30 32 33 35 36 38 39 40 42 45 48 50 52 55 56 58 60 62 64",
    2.0: "18 20 22 24 25 27 28 30 32 33 36 39 40 42 45 48 50 52 55 56 58 60 62 64",
    3.0: "30 33 36 39 40 42 45 48 50 52 55 56 58 60 62 64",
    4.0: "42 45 48 52 55 56 58 60 62 64",
}
"""Fine pitches and their diameters, ISO 261, M1 to M64."""

_GROUP_ENDS_MM = np.array([0.99, 1.4, 2.8, 5.6, 11.2, 22.4, 45.0, 90.0])
"""The diameter groups of ISO 965-1; tolerances go by the geometric mean of a group's ends."""

_PITCH_DIAMETER_STEPS = {"5H": 1, "6H": 5, "7H": 9}
_MINOR_STEPS = {"5H": -4, "6H": 0, "7H": 4}
"""How many preferred numbers a grade lies above grade 6 (of the external thread for the pitch diameter): the factors
1.06, 1.32, 1.7 and 0.8, 1.25 of the standard."""

_MINOR_AS_PRINTED_UM = {0.25: 71.0, 0.5: 140.0, 2.5: 450.0}
_PITCH_DIAMETER_AS_PRINTED_UM = {(2.8, 0.5): 75.0, (45.0, 5.0): 250.0}
"""Grade 6 where the tables do not print the preferred number nearest to the formula: by pitch; by the lower end of the
diameter group and pitch."""

_FINEST_PITCH_MM = {"5H": 0.25, "6H": 0.3, "7H": 0.5}
"""Below these pitches the tables give no tolerance of the grade."""

_R40 = np.array([
    100, 106, 112, 118, 125, 132, 140, 150, 160, 170, 180, 190, 200, 212, 224, 236, 250, 265, 280, 300, 315, 335, 355,
    375, 400, 425, 450, 475, 500, 530, 560, 600, 630, 670, 710, 750, 800, 850, 900, 950,
], float)  # fmt: skip
"""One decade of the preferred numbers R40, ISO 3."""


def sizes() -> list[Designation]:
    """Every standard metric thread of this package, coarse first."""
    coarse = [Designation(Series.METRIC_COARSE, f"{d:g}", d, p) for d, p in COARSE_PITCH_MM.items()]
    pairs = sorted((float(d), -p) for p, diameters in _FINE_PITCHES_MM.items() for d in diameters.split())
    return coarse + [Designation(Series.METRIC_FINE, f"{d:g}", d, -p) for d, p in pairs]


def preferred(value: ArrayLike) -> Floats:
    """The nearest preferred number of the series R40, by ratio (ISO 3).

    Parameters
    ----------
    value : array_like of float, above 0
    """
    values = positive("value", value, "any unit")
    decade = 10.0 ** np.floor(np.log10(values) - 2)
    steps = np.append(_R40, 1000.0)
    nearest = np.abs(np.log(steps) - np.log((values / decade)[..., None])).argmin(axis=-1)
    return np.asarray(steps[nearest] * decade)


def pitch_diameter_tolerance_um(major_mm: ArrayLike, pitch_mm: ArrayLike, thread_class: str) -> Floats:
    """Tolerance TD2 of the internal thread's pitch diameter, in micrometres.

    Parameters
    ----------
    major_mm, pitch_mm : array_like, mm      diameters from M1 to M90
    thread_class : str                       '5H', '6H' or '7H'

    Notes
    -----
    Td2(6) = 90 P^0.4 d^0.1, d the geometric mean of the diameter group, rounded to a preferred number; the internal
    grades 5, 6 and 7 lie 1, 5 and 9 preferred numbers above it (1.06, 1.32 and 1.7 times).

    References
    ----------
    ISO 965-1, section 13.4 and table 6
    """
    D, P = positive("major", major_mm), positive("pitch", pitch_mm)
    group = np.clip(np.searchsorted(_GROUP_ENDS_MM, D), 1, len(_GROUP_ENDS_MM) - 1)
    low, high = _GROUP_ENDS_MM[group - 1], _GROUP_ENDS_MM[group]
    external = preferred(90 * P**0.4 * np.sqrt(low * high) ** 0.1)
    for (group_low, pitch), printed in _PITCH_DIAMETER_AS_PRINTED_UM.items():
        external = np.where((low == group_low) & (pitch == P), printed, external)
    return np.round(preferred(external * 10 ** (_PITCH_DIAMETER_STEPS[thread_class] / 40)))


def minor_tolerance_um(pitch_mm: ArrayLike, thread_class: str) -> Floats:
    """Tolerance TD1 of the internal thread's minor diameter, in micrometres.

    Parameters
    ----------
    pitch_mm : array_like, mm
    thread_class : str                       '5H', '6H' or '7H'

    Notes
    -----
    Grade 6 is 230 P^0.7 from a pitch of 1 mm and 433 P - 190 P^1.22 below, rounded to a preferred number; grades 5 and
    7 lie 4 preferred numbers below and above it (0.8 and 1.25 times).

    References
    ----------
    ISO 965-1, section 13.3 and table 3
    """
    P = positive("pitch", pitch_mm)
    grade_6 = preferred(np.where(P >= 1, 230 * P**0.7, 433 * P - 190 * P**1.22))
    for pitch, printed in _MINOR_AS_PRINTED_UM.items():
        grade_6 = np.where(pitch == P, printed, grade_6)
    return np.round(preferred(grade_6 * 10 ** (_MINOR_STEPS[thread_class] / 40)))


def classes_of(pitch_mm: float) -> tuple[str, ...]:
    """The classes for which ISO 965-1 gives tolerances at this pitch."""
    return tuple(name for name, finest in _FINEST_PITCH_MM.items() if pitch_mm >= finest)


def limits_mm(thread: Designation, thread_class: str) -> tuple[float, float, float, float]:
    """Least and largest minor diameter, least and largest pitch diameter of the internal thread, in mm.

    Basic diameters are rounded to micrometres, as in ISO 724, before the tolerance is added.
    """
    d, P = thread.major_mm, thread.pitch_mm
    minor, pitch = round(d - 1.08253175 * P, 3), round(d - 0.64951905 * P, 3)
    minor_max = minor + float(minor_tolerance_um(P, thread_class)) / 1000
    pitch_max = pitch + float(pitch_diameter_tolerance_um(d, P, thread_class)) / 1000
    return minor, round(minor_max, 3), pitch, round(pitch_max, 3)
