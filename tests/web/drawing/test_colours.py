"""The colours of the day and the night: each text can be read, each border seen, no sheet has its own."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.drawing.charts import CHANGE, DEPTHS, FITTED, INK, NIGHT, PAPER, SOFT
from tests.contrast import contrast

TEXT, BORDER = 7.0, 3.0
"""WCAG 2.2, success criteria 1.4.6 (text, level AAA) and 1.4.11 (borders of what is touched)."""

TOKEN = re.compile(r"--([\w-]+): (#[0-9a-f]{6});")
DAY, NIGHTLY = ((STATIC / f"css/{name}.css").read_text(encoding="utf-8") for name in ("tokens", "night"))
SCHEMES = {"day": dict(TOKEN.findall(DAY)), "night": dict(TOKEN.findall(DAY)) | dict(TOKEN.findall(NIGHTLY))}
GROUNDS = ("paper", "ground")
TEXTS = [
    *((ink, ground) for ink in ("ink", "ink-soft", "brand", "good", "warn", "bad") for ground in GROUNDS),
    *((ink, f"{sign}-ground") for sign in ("good", "warn", "bad") for ink in (sign, "ink", "ink-soft", "brand")),
    *(("fill-ink", "fill"), ("call-ink", "call"), ("ink", "typed")),
]
BORDERS = [(edge, ground) for edge in ("line", "brand", "focus", "call-ink", "bad", "made") for ground in GROUNDS]
PAPERS = {"labels.css": {"#777", "#000"}, "operator.css": {"#000"}}
"""A label is paper and is scanned off the screen; a camera's picture has black behind it."""

SHEETS = [path for path in sorted((STATIC / "css").glob("*.css")) if path.name not in ("tokens.css", "night.css")]


@pytest.mark.parametrize("scheme", SCHEMES)
def test_every_text_and_border_can_be_seen(scheme: str) -> None:
    """Text by 7:1, whatever it stands on; what is touched by 3:1."""
    colours = SCHEMES[scheme]
    wanted = [(TEXT, pair) for pair in TEXTS] + [(BORDER, pair) for pair in BORDERS]
    assert [] == [(pair, least) for least, pair in wanted if least > contrast(*(colours[name] for name in pair))]


def test_the_night_changes_colours_only_that_the_day_has() -> None:
    """A token that the night alone knew would be missing by day."""
    assert set(TOKEN.findall(NIGHTLY)).isdisjoint(TOKEN.findall(DAY))
    assert {name for name, _ in TOKEN.findall(NIGHTLY)} < set(SCHEMES["day"])


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.stem)
def test_no_sheet_has_colours_of_its_own(sheet: Path) -> None:
    """They would stay as they are by night."""
    own = set(re.findall(r": [^;{}]*?(#[0-9a-f]{3,6})\b", sheet.read_text(encoding="utf-8")))
    assert PAPERS.get(sheet.name, set()) == own


@pytest.mark.parametrize("colours", [{colour: colour for colour in NIGHT}, NIGHT], ids=["day", "night"])
def test_a_chart_can_be_read(colours: dict[str, str]) -> None:
    """Its texts on paper and on each step of the heat map, and its lines; deeper steps stand out more."""
    paper, ink = colours[PAPER], colours[INK]
    assert all(contrast(colours[text], paper) >= TEXT for text in (INK, SOFT, CHANGE))
    assert contrast(colours[FITTED], paper) >= BORDER
    steps = [colours[depth] for depth in DEPTHS]
    assert all(contrast(step, text) >= TEXT for step, text in zip(steps, [ink] * 3 + [paper] * 2, strict=True))
    assert sorted(steps, key=lambda step: contrast(step, paper)) == steps


def test_a_chart_knows_the_night_of_every_colour() -> None:
    """A colour of the night is never taken for one of the day."""
    assert set(NIGHT).isdisjoint(NIGHT.values())
    assert {INK, SOFT, PAPER, CHANGE, FITTED, *DEPTHS} <= set(NIGHT)
