"""Sheets of labels."""

from __future__ import annotations

from flask.testing import FlaskClient

from shopfloor.core.input.labels import Label, Labelled

T1 = Label(Labelled.TAP, "T0001")


def test_the_crib_prints_labels_of_its_taps(client: FlaskClient) -> None:
    """Each with its square, its code and its type."""
    page = client.get("/crib/labels").text
    assert 3 == page.count('class="label-square"')
    assert f"T <strong>T0001</strong> {T1.check}" in page
    assert "M8 spiral point" in page


def test_labels_are_narrowed(client: FlaskClient) -> None:
    """By code and type; the size is kept."""
    page = client.get("/crib/labels?code=T0003&size=small").text
    assert 1 == page.count('class="label-square"')
    assert "label-small" in page
    assert "No usable tap matches" in client.get("/crib/labels?code=T9").text


def test_strange_wishes_do_no_harm(client: FlaskClient) -> None:
    """An unknown size or stretch of days is none."""
    assert "label-large" in client.get("/crib/labels?size=huge&days=-1").text


def test_jobs_and_stations_have_labels(client: FlaskClient) -> None:
    """From their lists; people have none."""
    assert "Print labels to scan" in client.get("/setup/jobs").text
    assert 2 == client.get("/setup/stations/labels").text.count('class="label-square"')
    assert "S <strong>arm-1</strong>" in client.get("/setup/stations/labels").text
    assert 404 == client.get("/setup/people/labels").status_code
    assert "Print labels" not in client.get("/setup/people").text


def test_a_scanned_tap_is_found_in_the_crib(client: FlaskClient) -> None:
    """The search takes what a scanner sends."""
    answer = client.get("/crib/taps", query_string={"code": f"${T1.scanned}"})
    assert "/crib/taps/T0001" == answer.headers["Location"]
