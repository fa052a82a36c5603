"""Light or dark: as the tablet is set, or as it was chosen on it; the server draws it at once."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient

HOLDS = {"tablet": "screen and (prefers-color-scheme: dark)", "light": "not all", "dark": "screen"}


def night_of(page: str) -> str:
    """Where the sheet of the night holds."""
    return page.partition('id="night"')[2].partition('media="')[2].partition('"')[0]


@pytest.mark.parametrize("code", HOLDS)
def test_a_tablet_keeps_the_look_that_was_chosen_on_it(client: FlaskClient, code: str) -> None:
    """One touch, back to the same page; the page says which look is in use."""
    client.get("/look/dark")
    answer = client.get(f"/look/{code}?back=/crib/")
    assert (303, "/crib/") == (answer.status_code, answer.location)
    page = client.get("/crib/").text
    assert HOLDS[code] == night_of(page)
    assert f'data-look="{code}"' in page
    scheme = "light dark" if code == "tablet" else code
    assert f'<meta name="color-scheme" content="{scheme}">' in page
    assert 1 == page.count('aria-current="true"')


def test_until_then_a_page_looks_as_the_tablet_is_set(client: FlaskClient) -> None:
    """A cookie that makes no sense changes nothing."""
    assert HOLDS["tablet"] == night_of(client.get("/").text)
    client.set_cookie("look", "purple")
    assert HOLDS["tablet"] == night_of(client.get("/").text)


def test_another_look_is_not_found(client: FlaskClient) -> None:
    """Only what is offered; and a choice leads nowhere else."""
    assert 404 == client.get("/look/purple").status_code
    assert "/" == client.get("/look/dark", query_string={"back": "//elsewhere.example/"}).location


def test_a_choice_renews_the_pages_that_a_tablet_keeps(client: FlaskClient) -> None:
    """The service worker's script is another one then, so the browser installs it and its pages anew."""
    before = client.get("/operator/worker.js").text
    client.get("/look/dark")
    assert before != client.get("/operator/worker.js").text


def test_a_page_says_where_the_night_holds_by_each_look(client: FlaskClient) -> None:
    """So that a script can put a page right that was kept before the choice."""
    link = client.get("/").text.partition('id="night"')[2].partition(">")[0]
    assert all(f'data-{code}="{holds}"' in link for code, holds in HOLDS.items())
