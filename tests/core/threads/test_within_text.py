"""Thread designations as people type them."""

from __future__ import annotations

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.threads import find_thread, major_diameter_mm, read_thread

# Basic major diameter (in) and threads per inch, ASME B1.1.
UNIFIED = {
    "#0-80": (0.06, 80), "#1-64": (0.073, 64), "#2-56": (0.086, 56), "#2-64": (0.086, 64), "#3-48": (0.099, 48),
    "#4-40": (0.112, 40), "#4-48": (0.112, 48), "#5-44": (0.125, 44), "#6-32": (0.138, 32), "#6-40": (0.138, 40),
    "#8-32": (0.164, 32), "#10-24": (0.19, 24), "#10-32": (0.19, 32), "#12-28": (0.216, 28), "1/4-20": (0.25, 20),
    "1/4-28": (0.25, 28), "5/16-18": (0.3125, 18), "3/8-16": (0.375, 16), "3/8-24": (0.375, 24),
    "7/16-20": (0.4375, 20), "1/2-13": (0.5, 13), "1/2-20": (0.5, 20), "9/16-12": (0.5625, 12),
    "5/8-18": (0.625, 18), "3/4-10": (0.75, 10), "3/4-16": (0.75, 16), "1-8": (1.0, 8),
}  # fmt: skip
# Basic major diameter and pitch (mm), ISO 261.
METRIC = {
    "M1.6": (1.6, 0.35), "M2": (2, 0.4), "M3": (3, 0.5), "M5": (5, 0.8), "M6": (6, 1), "M8": (8, 1.25),
    "M10": (10, 1.5), "M10x1": (10, 1), "M12": (12, 1.75), "M12x1.5": (12, 1.5), "M12x1.25": (12, 1.25),
    "M16": (16, 2), "M20": (20, 2.5), "M20x1.5": (20, 1.5), "M24": (24, 3),
}  # fmt: skip


@pytest.mark.parametrize(("designation", "size"), UNIFIED.items())
def test_unified_sizes(designation: str, size: tuple[float, int]) -> None:
    """Diameter and pitch of Unified threads are those of ASME B1.1."""
    thread = read_thread(designation)
    assert size == pytest.approx((thread.major_mm / 25.4, 25.4 / thread.pitch_mm))


@pytest.mark.parametrize(("designation", "size"), METRIC.items())
def test_metric_sizes(designation: str, size: tuple[float, float]) -> None:
    """Diameter and pitch of metric threads are those of ISO 261."""
    thread = read_thread(designation)
    assert size == (thread.major_mm, thread.pitch_mm)


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [("1/2-13 UNC spiral point", 12.7), (".250-20", 6.35), ("#10-32 UNF-2B", 4.826), ("10-32", 4.826), ("0-80", 1.524),
     ("M10×1.25-6H", 10), ("tap m6 forming", 6), ("1 1/8-7", 28.575)],
)  # fmt: skip
def test_designations_inside_other_text(text: str, millimetres: float) -> None:
    """A tap type's name tells the thread however it is written."""
    assert millimetres == pytest.approx(major_diameter_mm(text))


@pytest.mark.parametrize("text", ["half inch", "", "T-0417", "M8x9", "1/0-3", "13-20", "M", "ARM8", "2026-03-31"])
def test_what_is_no_thread(text: str) -> None:
    """Other text is not taken for a thread, and the message shows how to write one."""
    assert find_thread(text) is None
    with pytest.raises(InputError, match="write it like 3/8-16"):
        read_thread(text)
