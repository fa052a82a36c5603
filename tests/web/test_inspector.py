"""The inspector of pages sees what it is there for."""

from __future__ import annotations

import pytest

from tests.web.inspector import faults

GOOD = """<!doctype html><html lang="en"><head><title>Taps</title></head><body><main><h1>Taps</h1>
<form method="post" action="/x"><label for="holes">Holes</label><input id="holes" name="holes"></form>
<div data-chart="figure" aria-label="Curve"></div><script type="application/json" id="figure">{}</script>
<table></table></main></body></html>"""


def test_a_good_page_has_no_fault() -> None:
    """One title and heading, labels, a table beside the chart."""
    assert [] == faults(GOOD)


@pytest.mark.parametrize(
    ("right", "wrong", "told"),
    [
        ("<h1>Taps</h1>", "", "0 times <h1>"),
        ("<h1>Taps</h1>", "<h1></h1>", "empty <h1>"),
        ("<title>Taps</title>", "<title></title>", "empty <title>"),
        (' lang="en"', "", "language"),
        ("<table>", '<table id="holes">', "'holes' stands 2 times"),
        ('for="holes"', 'for="depth"', "no label: input"),
        ('for="holes"', 'for="depth"', "nothing has the id 'depth'"),
        (' method="post"', "", "no method"),
        (' action="/x"', "", "no action"),
        ("<table>", '<table style="x">', "inline style in table"),
        ("<table>", '<table onclick="x()">', "inline onclick in table"),
        ("<table></table>", "<script>x()</script>", "inline script"),
        ("<table></table>", "", "no table beside the chart"),
        ("</form>", "", "ends what is not open"),
    ],
)
def test_each_fault_is_told(right: str, wrong: str, told: str) -> None:
    """The fault is named, so that its place is found."""
    assert told in "; ".join(faults(GOOD.replace(right, wrong, 1)))
