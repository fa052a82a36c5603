"""The hole in section is drawn to scale."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.set_up.card import set_up
from shopfloor.core.set_up.materials import work_material
from shopfloor.core.set_up.question import ChosenTap, Hole, SetUpCard, SetUpQuestion
from shopfloor.core.threads.designations import parse
from shopfloor.core.vocabulary import Chamfer
from shopfloor.web.drawing.hole import HoleDrawing, Point, draw_hole

THREADS = ("#0-80", "M3", "M8", "3/8-16", "1 1/8-7", "M64", "G 1/4", "1/8-27 NPT")


def card(thread: str = "M8", *, chamfer: Chamfer | None = None, **hole: Any) -> SetUpCard:
    """A card of 16 mm of thread in a blind hole."""
    known: dict[str, Any] = {"depth_mm": 16.0, "is_blind": True} | hole
    return set_up(SetUpQuestion(parse(thread), work_material("steel"), 200, Hole(**known), ChosenTap(chamfer=chamfer)))


def corners(drawing: HoleDrawing, name: str) -> list[Point]:
    """The corners of the first shape of a name, in millimetres from the axis and the surface."""
    axis = next(shape for shape in drawing.shapes if shape.name == "axis").points[0][0]
    surface = next(shape for shape in drawing.shapes if shape.name == "metal").points[0][1]
    found = next(shape for shape in drawing.shapes if shape.name == name)
    return [((x - axis) / drawing.scale, (y - surface) / drawing.scale) for x, y in found.points]


def grooves(drawing: HoleDrawing) -> int:
    """How many grooves of thread one side has."""
    return (sum(shape.name == "void" for shape in drawing.shapes) - 1) // 2


@given(
    st.sampled_from(THREADS), st.floats(0.3, 4), st.booleans(), st.sampled_from([None, *Chamfer]), st.floats(0.5, 30)
)
def test_every_measure_is_as_long_as_its_figure(
    thread: str, diameters: float, is_blind: bool, chamfer: Chamfer | None, drilled: float
) -> None:
    """One scale for all directions, whatever the hole; nothing lies outside of the picture."""
    depth = diameters * parse(thread).major_mm
    drawing = draw_hole(card(thread, chamfer=chamfer, depth_mm=depth, is_blind=is_blind, drill_depth_mm=drilled))
    for measure in drawing.measures:
        length = abs(measure.end[0] - measure.start[0]) + abs(measure.end[1] - measure.start[1])
        assert drawing.scale * measure.mm == pytest.approx(length, abs=0.011)
    points = [point for shape in drawing.shapes for point in shape.points]
    points += [measure.letter_at for measure in drawing.measures]
    assert all(0 <= x <= drawing.width and 0 <= y <= drawing.height for x, y in points)


def test_the_measures_are_the_cards() -> None:
    """M8, 16 mm deep, plug tap: what the table beside the drawing says."""
    made = card()
    figures = {measure.letter: measure.mm for measure in draw_hole(made).measures}
    assert made.need is not None
    depths = {"A": 16, "B": 6.25, "C": 23.5, "D": made.need.point_mm}
    assert depths | {"E": 6.8, "F": 8, "G": 8.3125} == pytest.approx(figures)


def test_a_blind_hole_ends_in_its_drill_point() -> None:
    """The void's corners: mouth, wall, full diameter to its depth, the point on the axis."""
    made = card(drill_depth_mm=25.0)
    void = corners(draw_hole(made), "void")
    assert made.need is not None
    right = [(8.3125 / 2, 0), (3.4, (8.3125 - 6.8) / 2), (3.4, 25), (0, 25 + made.need.point_mm)]
    for expected, found in zip(right, void, strict=False):
        assert expected == pytest.approx(found, abs=0.01)


def test_a_through_hole_goes_through() -> None:
    """The metal ends with the thread, the tap's chamfer comes out under it."""
    drawing = draw_hole(card(is_blind=False))
    assert 16 == pytest.approx(max(y for _, y in corners(drawing, "metal")), abs=0.01)
    assert 16 == pytest.approx(max(y for _, y in corners(drawing, "void")), abs=0.01)
    assert 16 + 5 * 1.25 == pytest.approx(max(y for _, y in corners(drawing, "tap")), abs=0.01)
    assert {"A", "B", "E", "F", "G"} == {measure.letter for measure in drawing.measures}


def test_the_thread_has_its_pitch_and_its_depth() -> None:
    """One groove a pitch, as deep as the major diameter; the tap's chamfer leaves shallower ones in a blind hole."""
    through, blind = draw_hole(card(is_blind=False)), draw_hole(card())
    assert (12, 12 + 5) == (grooves(through), grooves(blind))
    tooth = [shape for shape in through.shapes if shape.name == "void"][1].points
    axis = through.width / 2
    assert 4.0 == pytest.approx((tooth[1][0] - axis) / through.scale, abs=0.01)
    assert 1.25 == pytest.approx((tooth[2][1] - tooth[0][1]) / through.scale, abs=0.02)


def test_no_thread_where_there_is_no_hole() -> None:
    """A hole too shallow: the tap's outline runs into the metal, and that is seen."""
    drawing = draw_hole(card(drill_depth_mm=10.0))
    assert 7 == grooves(drawing)
    assert max(y for _, y in corners(drawing, "tap")) > 10 + 2


@pytest.mark.parametrize(("chamfer", "threads"), [(Chamfer.TAPER, 10), (Chamfer.PLUG, 5), (Chamfer.BOTTOMING, 2)])
def test_each_form_of_chamfer_has_its_length(chamfer: Chamfer, threads: int) -> None:
    """The most threads of each form."""
    figures = {measure.letter: measure.mm for measure in draw_hole(card(chamfer=chamfer)).measures}
    assert threads * 1.25 == pytest.approx(figures["B"])
