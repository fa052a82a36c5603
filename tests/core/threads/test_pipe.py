"""Pipe threads against ISO 228-1 and ASME B1.20.1."""

from __future__ import annotations

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.threads.designations import parse
from shopfloor.core.threads.dimensions import classes_of, dimensions, limits
from shopfloor.core.threads.pipe import npt_effective_length, npt_end_pitch_diameter, taper_pipe
from tests.published.threads import NPT, G, Row, size_of


@pytest.mark.parametrize("row", G, ids=size_of)
def test_g_threads(row: Row) -> None:
    """Diameters to the printed micrometre; no stress area."""
    thread = parse(f"G {row['size']}")
    of = dimensions(thread)
    assert float(row["tpi"]) == thread.tpi
    printed = [float(row[name]) for name in ("major_mm", "pitch_diameter_mm", "minor_mm")]
    assert printed == pytest.approx([of.major_mm, of.pitch_diameter_mm, of.minor_mm], abs=1.1e-3)
    assert of.stress_area_mm2 is None


@pytest.mark.parametrize("row", NPT, ids=size_of)
def test_npt_threads(row: Row) -> None:
    """E0, E1, E2 and L2 come from the formulas to the printed digits."""
    thread = parse(f"{row['size']} NPT")
    of = taper_pipe(thread)
    assert [float(row["tpi"]), float(row["outside_in"])] == pytest.approx([thread.tpi, thread.major_in])
    printed = [float(row[name]) for name in ("e0_in", "e1_in", "e2_in")]
    assert printed == pytest.approx([v / 25.4 for v in (of.e0_mm, of.e1_mm, of.e2_mm)], abs=1.5e-5)
    assert float(row["l2_in"]) == pytest.approx(of.l2_mm / 25.4, abs=6e-5)
    assert of.e1_mm == dimensions(thread).pitch_diameter_mm


def test_formulas_take_columns() -> None:
    """1/8-27 and 2-11.5 NPT at once."""
    outside, pitch = [0.405, 2.375], [1 / 27, 1 / 11.5]
    assert [0.36351, 2.26902] == pytest.approx(npt_end_pitch_diameter(outside, pitch), abs=1e-5)
    assert [0.2639, 0.7565] == pytest.approx(npt_effective_length(outside, pitch), abs=6e-5)


def test_pipe_threads_have_no_limits_here() -> None:
    """The message says what may be asked for."""
    assert () == classes_of(parse("G 1/4"))
    with pytest.raises(InputError, match="basic dimensions"):
        limits(parse("G 1/4"))
