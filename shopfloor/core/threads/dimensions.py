"""Basic and limiting dimensions of a thread, from the formulas of its standard."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.core.threads import metric, unified
from shopfloor.core.threads.pipe import G_HEIGHT, NPT_HEIGHT, taper_pipe
from shopfloor.core.threads.series import Designation, Floats, Series, one_of, positive
from shopfloor.core.units import MM_PER_INCH

PITCH_DIAMETER_FACTOR = 0.64951905
"""2 x 3/8 H over the pitch, H the height of the sharp 60 degree triangle (ISO 68-1, ASME B1.1)."""

MINOR_FACTOR = 1.08253175
"""2 x 5/8 H over the pitch."""

ROOT_FACTOR = 1.22686954
"""2 x 17/24 H over the pitch."""

STRESS_FACTOR_INCH = 0.9743


@dataclass(frozen=True)
class Dimensions:
    """Basic dimensions of one thread, in mm.

    `minor_mm` is that of the internal thread (D1), `root_mm` that of the external one (d3), `height_mm` half of major
    less minor. Root and stress area are None for pipe threads. For NPT, pitch and minor diameter are those at the
    hand-tight plane, the face of an internal thread, and `major_mm` is the pipe's outside diameter.
    """

    major_mm: float
    pitch_mm: float
    pitch_diameter_mm: float
    minor_mm: float
    root_mm: float | None
    height_mm: float
    stress_area_mm2: float | None


@dataclass(frozen=True)
class Limits:
    """Limits of size of the internal thread in one class, in mm; the major diameter has only a minimum."""

    thread_class: str
    major_min_mm: float
    minor_min_mm: float
    minor_max_mm: float
    pitch_diameter_min_mm: float
    pitch_diameter_max_mm: float


def pitch_diameter(major: ArrayLike, pitch: ArrayLike) -> Floats:
    """Basic pitch diameter of a 60 degree thread, d2 = d - 0.64951905 P.

    Parameters
    ----------
    major, pitch : array_like, both in mm or both in inches

    References
    ----------
    ISO 724; ASME B1.1
    """
    return np.asarray(positive("major", major) - PITCH_DIAMETER_FACTOR * positive("pitch", pitch))


def internal_minor_diameter(major: ArrayLike, pitch: ArrayLike) -> Floats:
    """Basic minor diameter of an internal 60 degree thread, D1 = d - 1.08253175 P.

    Parameters
    ----------
    major, pitch : array_like, both in mm or both in inches

    References
    ----------
    ISO 724; ASME B1.1
    """
    return np.asarray(positive("major", major) - MINOR_FACTOR * positive("pitch", pitch))


def external_root_diameter(major: ArrayLike, pitch: ArrayLike) -> Floats:
    """Root diameter of an external 60 degree thread, d3 = d - 1.22686954 P.

    Parameters
    ----------
    major, pitch : array_like, both in mm or both in inches

    References
    ----------
    ISO 898-1, section 9.1.6.1; the same depth of 17/24 H is taken for Unified threads
    """
    return np.asarray(positive("major", major) - ROOT_FACTOR * positive("pitch", pitch))


def stress_area_metric_mm2(major_mm: ArrayLike, pitch_mm: ArrayLike) -> Floats:
    """Tensile stress area of an external metric thread, pi/4 ((d2 + d3) / 2)^2, in mm2.

    Parameters
    ----------
    major_mm, pitch_mm : array_like, mm

    References
    ----------
    ISO 898-1, section 9.1.6.1
    """
    mean = (pitch_diameter(major_mm, pitch_mm) + external_root_diameter(major_mm, pitch_mm)) / 2
    return np.asarray(math.pi / 4 * mean**2)


def stress_area_unified_in2(major_in: ArrayLike, tpi: ArrayLike) -> Floats:
    """Tensile stress area of an external Unified thread, pi/4 (D - 0.9743 / n)^2, in square inches.

    Parameters
    ----------
    major_in : array_like, in
    tpi : array_like, threads per inch

    References
    ----------
    ASME B1.1, appendix B
    """
    D, n = positive("major", major_in, "in"), positive("threads per inch", tpi, "1/in")
    return np.asarray(math.pi / 4 * (D - STRESS_FACTOR_INCH / n) ** 2)


def dimensions(thread: Designation) -> Dimensions:
    """Basic dimensions of a standard thread.

    Examples
    --------
    >>> from shopfloor.core.threads.designations import parse
    >>> round(dimensions(parse("M10")).stress_area_mm2, 2)
    57.99
    """
    if thread.series.is_pipe:
        return _pipe(thread)
    d, P = thread.major_mm, thread.pitch_mm
    minor = float(internal_minor_diameter(d, P))
    return Dimensions(
        major_mm=d,
        pitch_mm=P,
        pitch_diameter_mm=float(pitch_diameter(d, P)),
        minor_mm=minor,
        root_mm=float(external_root_diameter(d, P)),
        height_mm=(d - minor) / 2,
        stress_area_mm2=_stress_area_mm2(thread),
    )


def _stress_area_mm2(thread: Designation) -> float:
    if thread.series.is_metric:
        return float(stress_area_metric_mm2(thread.major_mm, thread.pitch_mm))
    return float(stress_area_unified_in2(thread.major_in, thread.tpi)) * MM_PER_INCH**2


def _pipe(thread: Designation) -> Dimensions:
    P = thread.pitch_mm
    height = (G_HEIGHT if thread.series is Series.G else NPT_HEIGHT) * P
    middle = thread.major_mm - height if thread.series is Series.G else taper_pipe(thread).e1_mm
    return Dimensions(thread.major_mm, P, middle, middle - height, None, height, None)


def classes_of(thread: Designation) -> tuple[str, ...]:
    """The classes in which the standard gives limits for this thread, the usual one first."""
    classes = metric.classes_of(thread.pitch_mm) if thread.series.is_metric else thread.series.classes
    return tuple(sorted(classes, key=lambda name: (name not in ("2B", "6H"), name)))


def limits(thread: Designation, thread_class: str | None = None) -> Limits:
    """Limits of size of the internal thread: in the class asked for, else its own, else the usual one.

    Raises
    ------
    InputError    a class without limits for this thread; names those it has
    """
    classes = classes_of(thread)
    name = thread_class or thread.thread_class or (classes[0] if classes else None)
    if name is None or name not in classes:
        remedy = phrase("ask for {one_of}", one_of=one_of(classes)) if classes else "ask for its basic dimensions"
        raise InputError.of(
            "class",
            phrase("{basic_text} has no limits for {value}", basic_text=thread.basic_text, value=name or "any class"),
            remedy,
        )
    if thread.series.is_metric:
        return Limits(name, thread.major_mm, *metric.limits_mm(thread, name))
    return Limits(name, thread.major_mm, *(round(MM_PER_INCH * value, 6) for value in unified.limits_in(thread, name)))
