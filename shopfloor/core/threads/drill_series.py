"""The standard drills: fractional, number and letter sizes in inches, and metric sizes.

References: ASME B94.11M (number and letter gauge; fractional sizes by 64ths to 1 3/4 in, by 32nds to 2 1/4 in, by 16ths
beyond), ISO 235 (metric). The steps of the metric sizes are a selection, common practice: by 0.05 mm to 6 mm, 0.1 mm to
14 mm, 0.25 mm to 32 mm, 0.5 mm to 64 mm.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from shopfloor.core.errors import InputError
from shopfloor.core.phrases import phrase
from shopfloor.core.threads.series import fraction_text
from shopfloor.core.threads.text import plain_text
from shopfloor.core.units import MM_PER_INCH
from shopfloor.core.vocabulary import Word

_NUMBERS = """
.2280 .2210 .2130 .2090 .2055 .2040 .2010 .1990 .1960 .1935 .1910 .1890 .1850 .1820 .1800 .1770 .1730 .1695
.1660 .1610 .1590 .1570 .1540 .1520 .1495 .1470 .1440 .1405 .1360 .1285 .1200 .1160 .1130 .1110 .1100 .1065
.1040 .1015 .0995 .0980 .0960 .0935 .0890 .0860 .0820 .0810 .0785 .0760 .0730 .0700 .0670 .0635 .0595 .0550
.0520 .0465 .0430 .0420 .0410 .0400 .0390 .0380 .0370 .0360 .0350 .0330 .0320 .0310 .0292 .0280 .0260 .0250
.0240 .0225 .0210 .0200 .0180 .0160 .0145 .0135
"""
"""Diameters of #1 to #80 in inches."""

_LETTERS = """
.2340 .2380 .2420 .2460 .2500 .2570 .2610 .2660 .2720 .2770 .2810 .2900 .2950 .3020 .3160 .3230 .3320 .3390
.3480 .3580 .3680 .3770 .3860 .3970 .4040 .4130
"""
"""Diameters of A to Z in inches."""

_FRACTIONS = (
    *(Fraction(n, 64) for n in range(1, 112)),
    *(Fraction(n, 32) for n in range(56, 72)),
    *(Fraction(n, 16) for n in range(36, 69)),
)
_HUNDREDTHS_MM = (*range(30, 600, 5), *range(600, 1400, 10), *range(1400, 3200, 25), *range(3200, 6401, 50))


class DrillSeries(Word):
    """The series that a drill belongs to."""

    FRACTIONAL = "fractional", "Fractional"
    NUMBER = "number", "Number"
    LETTER = "letter", "Letter"
    METRIC = "metric", "Metric"


@dataclass(frozen=True)
class Drill:
    """A standard drill: its name in the shop ('5/16', '#7', 'F', '6.8 mm'), diameter and series."""

    name: str
    diameter_mm: float
    series: DrillSeries

    @property
    def diameter_in(self) -> float:
        """Diameter in inches."""
        return self.diameter_mm / MM_PER_INCH

    @property
    def is_inch(self) -> bool:
        """Whether it is one of the inch series."""
        return self.series is not DrillSeries.METRIC


@cache
def standard_drills() -> tuple[Drill, ...]:
    """Every standard drill, from small to large; of two equal sizes the fraction comes first."""
    fractions = [_inch(fraction_text(size), float(size), DrillSeries.FRACTIONAL) for size in _FRACTIONS]
    numbers = [_inch(f"#{n}", float(size), DrillSeries.NUMBER) for n, size in enumerate(_NUMBERS.split(), 1)]
    letters = [_inch(chr(65 + n), float(size), DrillSeries.LETTER) for n, size in enumerate(_LETTERS.split())]
    metric = [Drill(f"{size / 100:g} mm", size / 100, DrillSeries.METRIC) for size in _HUNDREDTHS_MM]
    return tuple(sorted([*fractions, *numbers, *letters, *metric], key=lambda drill: drill.diameter_mm))


def _inch(name: str, diameter_in: float, series: DrillSeries) -> Drill:
    return Drill(name, round(diameter_in * MM_PER_INCH, 6), series)


def find_drill(text: str) -> Drill:
    """The standard drill that a text names: '5/16', '#7', 'No. 7', 'letter F', '6.8', '6,8 mm', '1 1/16 in'.

    Raises
    ------
    InputError    no standard drill; names the nearest in size where the text is a number
    """
    plain = re.sub(r"^LETTER |(?<=\d) IN$", "", plain_text(text))
    name = f"{float(plain[:-2] if plain.endswith('MM') else plain):g} mm" if _is_metric(plain) else plain
    for drill in standard_drills():
        if drill.name == name:
            return drill
    remedy = "write it like 5/16, #7, F or 6.8 mm"
    if name.endswith(" mm"):
        wanted_mm = float(name[:-3])
        remedy = phrase(
            "the nearest is {standard_drills}",
            standard_drills=min(standard_drills(), key=lambda drill: abs(drill.diameter_mm - wanted_mm)).name,
        )
    raise InputError.of("drill", phrase("'{text}' is not a standard drill", text=text.strip()), remedy)


def _is_metric(plain: str) -> bool:
    return re.fullmatch(r"(\d{1,3}\.?\d{0,4}|\.\d{1,4}) ?(MM)?", plain, re.ASCII) is not None
