"""Every figure that a page can draw, in both languages, held against Plotly's own schema.

Figures are plain dictionaries, since importing Plotly takes longer than drawing: what is misspelt in one would be left
out by the browser without a word.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select

import shopfloor.web
from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.shop import count_life_in
from shopfloor.store import Job
from tests.web.conftest import Shop

ADDRESSES = (
    "/quality/", "/quality/life", "/quality/life?mode=break", "/quality/life?mode=wear",
    "/quality/life?tap_type=M8+spiral+point&material=steel",
)  # fmt: skip
FIGURE = re.compile(r'<script type="application/json" id="([a-z]+)-figure">(.*?)</script>', re.S)
PLACE = re.compile(r'chart\("([a-z]+)"')


def end(shop: Shop, *ages: int, **ending: Any) -> None:
    """Use a fresh M8 tap to each age, which then ends like this."""
    for age in ages:
        broken = {"broke_at_hole": age, "tap_end": "broken", "part_fate": "scrapped"}
        shop.log(tap=receive_tap(shop.work, None, "M8 spiral point", "ben"), holes=age, **(ending or broken))


def young(shop: Shop) -> None:
    """Two failures, from which a careful start is made."""
    end(shop, 100, 104)


def without_a_failure(shop: Shop) -> None:
    """A curve without a fit."""
    shop.log(holes=400)


def grown(shop: Shop) -> None:
    """Breaks, worn taps, taps still good, two speeds, a thin place and an empty one."""
    end(shop, 260, 300, 340, 380, 420)
    end(shop, 60, 90, 110, 130, rpm=450, tap_end="broken", part_fate="scrapped")
    end(shop, 350, 390, 430, tap_end="worn")
    end(shop, 250, 300, tap_end="still good")
    shop.log(tap="T0003", job="J-2", rpm=250)


def in_thread(shop: Shop) -> None:
    """A shop that counts the life of taps in m of thread."""
    with shop.work.write() as session:
        for job in session.scalars(select(Job)):
            job.depth_mm = 10.0
    grown(shop)
    count_life_in(shop.work, LifeMeasure.THREAD)


def drawn(client: FlaskClient) -> dict[tuple[str, str, str], dict[str, Any]]:
    """The figures of all pages, by address, language and place on the page."""
    found: dict[tuple[str, str, str], dict[str, Any]] = {}
    for language in ("en", "es"):
        client.set_cookie("language", language)
        for address in ADDRESSES:
            page = client.get(address).get_data(as_text=True)
            found |= {(address, language, place): json.loads(text) for place, text in FIGURE.findall(page)}
    return found


@cache
def schema() -> Callable[..., Any]:
    """Plotly's figure, which refuses what it does not know."""
    from plotly.graph_objects import Figure  # slow to load, and by a test of this module only

    return Figure


@pytest.mark.parametrize(
    ("furnish", "places"),
    [
        (young, {"breakage", "life", "endings", "start"}),
        (without_a_failure, {"breakage", "life", "start"}),
        (grown, {"breakage", "life", "endings"}),
        (in_thread, {"breakage", "life", "endings"}),
    ],
)
def test_plotly_knows_all_that_a_figure_says(
    furnish: Callable[[Shop], None], places: set[str], client: FlaskClient, shop: Shop
) -> None:
    """Each property of each figure, and each value as one that it may have."""
    furnish(shop)
    figures = drawn(client)
    assert places == {place for _, _, place in figures}
    assert {"en", "es"} == {language for _, language, _ in figures}
    for figure in figures.values():
        assert len(figure["data"]) == len(schema()(figure).data)


def test_no_place_for_a_figure_is_forgotten() -> None:
    """All that a template makes room for are drawn above."""
    templates = (Path(shopfloor.web.__file__).parent / "templates").rglob("*.html")
    places = {place for template in templates for place in PLACE.findall(template.read_text(encoding="utf-8"))}
    assert {"breakage", "life", "endings", "start"} == places


def misspell_a_trace(figure: dict[str, Any]) -> None:
    """A property of the first trace."""
    figure["data"][0]["hovertemplte"] = "x"


def misspell_an_axis(figure: dict[str, Any]) -> None:
    """A property within the layout."""
    figure["layout"]["xaxis"]["tikfont"] = {}


def misspell_a_value(figure: dict[str, Any]) -> None:
    """A word that the property does not have."""
    figure["data"][0]["line"]["dash"] = "dotty"


@pytest.mark.parametrize("misspell", [misspell_a_trace, misspell_an_axis, misspell_a_value])
def test_what_plotly_does_not_know_is_found(
    misspell: Callable[[dict[str, Any]], None], client: FlaskClient, shop: Shop
) -> None:
    """A slip in a trace, in the layout or in a value, none of which a browser would speak of."""
    young(shop)
    figure = drawn(client)["/quality/life", "en", "life"]
    misspell(figure)
    with pytest.raises(ValueError, match="Invalid"):
        schema()(figure)
