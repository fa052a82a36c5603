"""The tapped hole in section, to scale: metal, hole with drill point, thread, the tap's chamfer, and its measures.

Pure geometry: a set-up card in, shapes out, which a template writes as SVG. Millimetres have their origin where the
axis meets the surface, x to the right and y into the metal.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import copysign

from shopfloor.core.phrases import phrase
from shopfloor.core.set_up.question import SetUpCard
from shopfloor.core.threads.depth import CHAMFER_THREADS

Point = tuple[float, float]

_MOST_WIDE, _MOST_HIGH = 150.0, 250.0
"""Room for the metal, in units of the picture."""
_BESIDE, _ABOVE, _BELOW = 62.0, 92.0, 12.0
"""Room for the measures."""
_STEP, _FIRST = 26.0, 20.0
_BESIDE_LINE, _UNDER_MIDDLE = 14.0, 6.0
"""From a measure's line to its letter."""

_NEARLY = 1e-9
_WALL = 0.9
"""Metal drawn beside the hole and under a blind one, over the thread's radius."""


@dataclass(frozen=True)
class Shape:
    """One line or area: its looks by name, and its corners in units of the picture."""

    name: str
    points: tuple[Point, ...]


@dataclass(frozen=True)
class Dimension:
    """One measure: its letter in the drawing, what it is, how long, and where its line runs in the picture."""

    letter: str
    words: str
    mm: float
    start: Point
    end: Point

    letter_at: Point
    """Where its letter stands: above its line, or on the line's outer side."""

    @property
    def is_upright(self) -> bool:
        """Whether it is a depth, not a diameter."""
        return self.start[0] == self.end[0]


@dataclass(frozen=True)
class HoleDrawing:
    """The picture: its size, the units that stand for one millimetre, shapes from back to front, measures."""

    width: float
    height: float
    scale: float
    shapes: tuple[Shape, ...]
    measures: tuple[Dimension, ...]


@dataclass(frozen=True)
class _Section:
    """The hole's measures in mm."""

    hole: float
    thread: float
    mouth: float
    pitch: float
    full_thread: float
    tap_chamfer: float
    drilled: float | None
    """Depth at full diameter; None for a through hole, whose metal ends with the thread."""
    point: float

    @property
    def lowest(self) -> float:
        """How deep the hole or the tap goes."""
        tap = self.full_thread + self.tap_chamfer
        return tap if self.drilled is None else max(tap, self.drilled + self.point)

    @property
    def wall(self) -> float:
        """Metal beside the mouth."""
        return _WALL * self.thread / 2

    @property
    def half_width(self) -> float:
        """From the axis to the end of the metal that is drawn."""
        return self.mouth / 2 + self.wall

    @property
    def metal_depth(self) -> float:
        """From the surface to the end of the metal that is drawn."""
        return self.full_thread if self.drilled is None else self.lowest + self.wall / 2


def draw_hole(card: SetUpCard) -> HoleDrawing:
    """Section of a card's hole, as large as the picture allows, at one scale in both directions."""
    section = _section(card)
    deepest = max(section.lowest, section.metal_depth)
    scale = min(_MOST_WIDE / (2 * section.half_width), _MOST_HIGH / deepest)
    frame = _Frame(scale)
    shapes = tuple(Shape(name, frame.all(points)) for name, points in _shapes(section))
    measures = (*_depths(section, frame), *_diameters(section, frame))
    return HoleDrawing(2 * frame.axis, _ABOVE + scale * deepest + _BELOW, scale, shapes, measures)


@dataclass(frozen=True)
class _Frame:
    """From millimetres to the picture."""

    scale: float
    axis: float = _BESIDE + _MOST_WIDE / 2

    def at(self, point: Point) -> Point:
        """One point, to a hundredth of a unit."""
        return round(self.axis + self.scale * point[0], 2), round(_ABOVE + self.scale * point[1], 2)

    def all(self, points: Sequence[Point]) -> tuple[Point, ...]:
        """Many points."""
        return tuple(self.at(point) for point in points)


def _section(card: SetUpCard) -> _Section:
    thread, need = card.question.thread, card.need
    drilled = None if need is None else (card.question.hole.drill_depth_mm or need.drill_depth_mm)
    return _Section(
        hole=card.hole_mm,
        thread=thread.major_mm,
        mouth=card.mouth_mm,
        pitch=thread.pitch_mm,
        full_thread=card.question.hole.depth_mm,
        tap_chamfer=CHAMFER_THREADS[card.chamfer][1] * thread.pitch_mm,
        drilled=drilled,
        point=0.0 if need is None else need.point_mm,
    )


def _shapes(of: _Section) -> Iterator[tuple[str, Sequence[Point]]]:
    w, h = of.half_width, of.metal_depth
    yield "metal", [(-w, 0), (w, 0), (w, h), (-w, h)]
    yield "void", _both_sides([(of.mouth / 2, 0), (of.hole / 2, (of.mouth - of.hole) / 2), *_bottom(of)])
    for tooth in _teeth(of):
        yield "void", tooth
        yield "void", [(-x, y) for x, y in tooth]
    end = of.full_thread + of.tap_chamfer
    yield "tap", _both_sides([(of.thread / 2, 0), (of.thread / 2, of.full_thread), (of.hole / 2, end)])
    yield "axis", [(0, -of.wall / 3), (0, max(h, of.lowest))]


def _bottom(of: _Section) -> list[Point]:
    """The right side of the hole from its wall down."""
    if of.drilled is None:
        return [(of.hole / 2, of.full_thread)]
    return [(of.hole / 2, of.drilled), (0, of.drilled + of.point)]


def _both_sides(right: Sequence[Point]) -> list[Point]:
    """The right side, then the left one on the way back."""
    return [*right, *((-x, y) for x, y in reversed(right))]


def _teeth(of: _Section) -> Iterator[list[Point]]:
    """The thread grooves on the right side: full ones, then, in a blind hole, shallower ones."""
    full, end = int(of.full_thread / of.pitch), of.full_thread if of.drilled is None else of.drilled
    runout = 0 if of.drilled is None else round(of.tap_chamfer / of.pitch)
    for n in range(-full, runout):
        high, low = of.full_thread + n * of.pitch, of.full_thread + (n + 1) * of.pitch
        share = 1 - (n + 0.5) / runout if n >= 0 else 1.0
        if low <= end + _NEARLY:
            yield _groove(of.hole / 2, of.hole / 2 + share * (of.thread - of.hole) / 2, high, low)


def _groove(wall: float, root: float, high: float, low: float) -> list[Point]:
    return [(wall, high), (root, (high + low) / 2), (wall, low)]


def _depths(of: _Section, frame: _Frame) -> Iterator[Dimension]:
    """Vertical dimensions: the tap's to the right, the drill's to the left."""
    right, left = of.half_width + _FIRST / frame.scale, -of.half_width - _FIRST / frame.scale
    thread, tap = of.full_thread, of.full_thread + of.tap_chamfer
    yield _measure("A", phrase("Full thread"), (right, 0), (right, thread), frame)
    yield _measure("B", phrase("Tap chamfer"), (right, thread), (right, tap), frame)
    if of.drilled is not None:
        yield _measure("C", phrase("Hole, full diameter"), (left, 0), (left, of.drilled), frame)
        yield _measure("D", phrase("Drill point"), (left, of.drilled), (left, of.drilled + of.point), frame)


def _diameters(of: _Section, frame: _Frame) -> Iterator[Dimension]:
    """Horizontal dimensions above the surface, the narrowest lowest."""
    named = (
        ("E", phrase("Hole diameter"), of.hole),
        ("F", phrase("Thread diameter"), of.thread),
        ("G", phrase("Mouth diameter"), of.mouth),
    )
    for n, (letter, words, mm) in enumerate(named):
        y = -(_FIRST + n * _STEP) / frame.scale
        yield _measure(letter, words, (-mm / 2, y), (mm / 2, y), frame)


def _measure(letter: str, words: str, start: Point, end: Point, frame: _Frame) -> Dimension:
    mm = abs(end[0] - start[0]) + abs(end[1] - start[1])
    (x1, y1), (x2, y2) = frame.at(start), frame.at(end)
    beside = 0.0 if x1 != x2 else copysign(_BESIDE_LINE, start[0])
    letter_at = ((x1 + x2) / 2 + beside, (y1 + y2) / 2 + (_UNDER_MIDDLE if beside else -_UNDER_MIDDLE))
    return Dimension(letter, words, mm, (x1, y1), (x2, y2), letter_at)
