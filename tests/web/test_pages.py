"""Menus are data: each leads somewhere, marks where one is, and forgets no page."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient

from shopfloor.web.assets.pages import AREAS, MENU

REACHED_OTHERWISE = {
    "front": {"front.start", "front.changes", "front.health", "front.speak", "front.choose_look"},
    "operator": {"operator.station", "operator.person", "operator.job", "operator.next_tap", "operator.entries"}
    | {"operator.correct", "operator.card", "operator.worker", "operator.offline", "operator.scan"},
    "crib": {"crib.tap", "crib.ledger", "crib.new_type", "crib.tap_type", "crib.check", "crib.movement"},
    "quality": {"quality.incident", "quality.gauge", "quality.photograph"},
    "setup": {"setup.card_where", "setup.labels", "setup.person", "setup.thing", "setup.codes"},
    "help": {"help.start", "help.page", "help.kept_page"},
    "monitoring": {"monitoring.metrics"},
    "who": {"who.tiles", "who.pin", "who.password"},
    "sync": {"sync.threads", "sync.clock", "sync.lists", "sync.advice"},
}
"""Pages to which another page leads: the mark, a tile, a row; and what scripts and programs ask for."""


def test_every_page_is_in_a_menu_or_reached_from_one(client: FlaskClient) -> None:
    """A page that nothing leads to would be lost."""
    known = {endpoint for endpoint, _, _ in MENU} | {entry.endpoint for area in AREAS.values() for entry in area.pages}
    known = known.union(*REACHED_OTHERWISE.values())
    rules = client.application.url_map.iter_rules()
    pages = {rule.endpoint for rule in rules if "GET" in (rule.methods or ()) and "." in rule.endpoint}
    assert pages == known


@pytest.mark.parametrize(
    ("area", "number"), [(name, n) for name, area in AREAS.items() for n in range(len(area.pages))]
)
def test_the_tabs_mark_the_page_that_is_shown(client: FlaskClient, area: str, number: int) -> None:
    """The same tabs in each area; one of them is the current page."""
    entry = AREAS[area].pages[number]
    with client.application.test_request_context():
        address = client.application.url_for(entry.endpoint, **entry.values)
    menu = re.search(r'<nav class="tabs".*?</nav>', client.get(address).text, re.S)
    assert menu is not None
    assert [entry.label] == re.findall(r'aria-current="page">([^<]+)<', menu[0])
