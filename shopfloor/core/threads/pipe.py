"""Pipe threads: parallel G and taper NPT, basic dimensions only.

References: ISO 228-1 (G: threads per inch, diameters; height 0.640327 P of the 55 degree form), ASME B1.20.1 (NPT:
threads per inch, outside diameters of pipe, hand-tight lengths L1; formulas for E0, E1 and L2). Sizes from memory of
the standards; tests compare them with printed tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shopfloor.core.threads.series import Designation, Floats, Series, positive
from shopfloor.core.units import MM_PER_INCH

G_HEIGHT = 0.640327
"""Height of the G thread form over its pitch, ISO 228-1."""

NPT_HEIGHT = 0.8
"""Largest height of the truncated NPT thread over its pitch, ASME B1.20.1."""

NPT_TAPER = 1 / 16
"""Taper on the diameter: 3/4 in a foot."""

_G = {
    "1/16": (28, 7.723), "1/8": (28, 9.728), "1/4": (19, 13.157), "3/8": (19, 16.662), "1/2": (14, 20.955),
    "5/8": (14, 22.911), "3/4": (14, 26.441), "7/8": (14, 30.201), "1": (11, 33.249), "1 1/8": (11, 37.897),
    "1 1/4": (11, 41.910), "1 1/2": (11, 47.803), "1 3/4": (11, 53.746), "2": (11, 59.614), "2 1/4": (11, 65.710),
    "2 1/2": (11, 75.184), "2 3/4": (11, 81.534), "3": (11, 87.884), "3 1/2": (11, 100.330), "4": (11, 113.030),
    "4 1/2": (11, 125.730), "5": (11, 138.430), "5 1/2": (11, 151.130), "6": (11, 163.830),
}  # fmt: skip
"""Threads per inch and major diameter (mm) by nominal size, ISO 228-1."""

_NPT = {
    "1/16": (27, 0.3125, 0.160), "1/8": (27, 0.405, 0.1615), "1/4": (18, 0.540, 0.2278), "3/8": (18, 0.675, 0.240),
    "1/2": (14, 0.840, 0.320), "3/4": (14, 1.050, 0.339), "1": (11.5, 1.315, 0.400), "1 1/4": (11.5, 1.660, 0.420),
    "1 1/2": (11.5, 1.900, 0.420), "2": (11.5, 2.375, 0.436), "2 1/2": (8, 2.875, 0.682), "3": (8, 3.500, 0.766),
    "3 1/2": (8, 4.000, 0.821), "4": (8, 4.500, 0.844), "5": (8, 5.563, 0.937), "6": (8, 6.625, 0.958),
    "8": (8, 8.625, 1.063), "10": (8, 10.750, 1.210), "12": (8, 12.750, 1.360), "14": (8, 14.000, 1.562),
    "16": (8, 16.000, 1.812), "18": (8, 18.000, 2.000), "20": (8, 20.000, 2.125), "24": (8, 24.000, 2.375),
}  # fmt: skip
"""Threads per inch, outside diameter of the pipe (in) and hand-tight length L1 (in), ASME B1.20.1."""


@dataclass(frozen=True)
class TaperPipe:
    """Basic dimensions of an NPT thread, in mm.

    Attributes
    ----------
    e0_mm, e1_mm, e2_mm    pitch diameters at the pipe's end, the hand-tight plane and the end of the effective thread
    l1_mm, l2_mm           lengths from the pipe's end to the latter two
    """

    e0_mm: float
    e1_mm: float
    e2_mm: float
    l1_mm: float
    l2_mm: float


def sizes() -> list[Designation]:
    """Every standard pipe thread of this package: G, then NPT."""
    parallel = [Designation(Series.G, size, major, MM_PER_INCH / tpi) for size, (tpi, major) in _G.items()]
    taper = [(size, tpi, od) for size, (tpi, od, _) in _NPT.items()]
    return parallel + [
        Designation(Series.NPT, size, round(od * MM_PER_INCH, 9), MM_PER_INCH / tpi) for size, tpi, od in taper
    ]


def npt_end_pitch_diameter(outside: ArrayLike, pitch: ArrayLike) -> Floats:
    """Pitch diameter E0 at the end of the pipe, E0 = D - (0.05 D + 1.1) p.

    Parameters
    ----------
    outside, pitch : array_like, in      outside diameter of the pipe, pitch

    References
    ----------
    ASME B1.20.1, section 3.2
    """
    D, p = positive("outside diameter", outside, "in"), positive("pitch", pitch, "in")
    return np.asarray(D - (0.05 * D + 1.1) * p)


def npt_effective_length(outside: ArrayLike, pitch: ArrayLike) -> Floats:
    """Length L2 of the effective external thread, L2 = (0.80 D + 6.8) p.

    Parameters
    ----------
    outside, pitch : array_like, in

    References
    ----------
    ASME B1.20.1, section 3.2
    """
    D, p = positive("outside diameter", outside, "in"), positive("pitch", pitch, "in")
    return np.asarray((0.80 * D + 6.8) * p)


def taper_pipe(thread: Designation) -> TaperPipe:
    """Pitch diameters and lengths of an NPT thread."""
    tpi, outside_in, l1_in = _NPT[thread.size]
    e0_in = float(npt_end_pitch_diameter(outside_in, 1 / tpi))
    l2_in = float(npt_effective_length(outside_in, 1 / tpi))
    inches = (e0_in, e0_in + NPT_TAPER * l1_in, e0_in + NPT_TAPER * l2_in, l1_in, l2_in)
    return TaperPipe(*(MM_PER_INCH * value for value in inches))
