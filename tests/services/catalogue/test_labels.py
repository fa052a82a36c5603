"""Labels of the shop's things, and what a scan or a typed code is taken for."""

from __future__ import annotations

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.input.labels import Label, Labelled
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.catalogue.labels import (
    Misread,
    find_label,
    job_labels,
    label_of,
    station_labels,
    tap_code,
    tap_labels,
)
from shopfloor.services.runs.runs import log_run
from shopfloor.store import Job, Tap
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

T1 = Label(Labelled.TAP, "T1")
J1 = Label(Labelled.JOB, "J1")


def codes(printed: object) -> list[str]:
    """The codes on some labels."""
    return [one.label.code for one in printed]  # type: ignore[attr-defined]


def test_every_tap_that_can_be_used_has_a_label(shop: Shop) -> None:
    """A broken one needs none."""
    log_run(shop.work, shop.entry(tap="T2", tap_end=TapEnd.BROKEN, broke_at_hole=3))
    assert ["B1", "T1", "T3"] == codes(tap_labels(shop.work))


@ON_BOTH
def test_labels_are_chosen_by_code_and_type(shop: Shop) -> None:
    """As a crib narrows them; a percent sign is no joker."""
    assert ["T3"] == codes(tap_labels(shop.work, "t3"))
    assert ["B1"] == codes(tap_labels(shop.work, tap_type="1/2-13 SP"))
    assert [] == codes(tap_labels(shop.work, "%"))


@ON_BOTH
def test_labels_of_the_last_days(shop: Shop) -> None:
    """Those that came in lately; nobody knows when the others came."""
    with shop.work.write() as session:
        session.add(Tap(code="T9", tap_type_id=1, regrinds=0, holes_before=0, received_at=shop.clock()))
    log_run(shop.work, shop.entry(tap="T9"))
    shop.clock.move(days=3)
    assert (["T9"], []) == (codes(tap_labels(shop.work, days=7)), codes(tap_labels(shop.work, days=1)))


def test_open_jobs_and_stations_have_labels(shop: Shop) -> None:
    """Each says what it is on."""
    assert ["J1", "J2", "J3"] == codes(job_labels(shop.work))
    assert ("Bracket", "M8 Structural steel") == job_labels(shop.work)[0].lines
    assert ["air", "arm"] == codes(station_labels(shop.work))


@ON_BOTH
@pytest.mark.parametrize("label", [T1, J1, Label(Labelled.STATION, "arm")])
def test_a_scanned_label_is_found(shop: Shop, label: Label) -> None:
    """As the scanner sends it, as a person types it."""
    assert label == find_label(shop.work, label.scanned)
    assert label == find_label(shop.work, label.printed.lower())


def test_one_slip_names_what_was_meant(shop: Shop) -> None:
    """Two characters the other way round: nothing is taken, the label that was meant is offered."""
    slip = T1.scanned[:-2] + T1.scanned[:-3:-1]
    with pytest.raises(Misread, match="check digits do not match") as caught:
        find_label(shop.work, slip)
    assert (T1,) == caught.value.near


def test_a_bare_code_is_asked_about(shop: Shop) -> None:
    """It has no check digits: nobody can tell whether it is right."""
    with pytest.raises(Misread) as caught:
        find_label(shop.work, "t1")
    assert (T1,) == caught.value.near


def test_a_right_label_of_nothing_is_told(shop: Shop) -> None:
    """A label from another shop, or of a tap that was never put on record."""
    with pytest.raises(Misread, match="no tap of this shop has that label"):
        find_label(shop.work, Label(Labelled.TAP, "T77").scanned)


def test_two_things_that_a_label_cannot_tell_apart_are_asked_about(shop: Shop) -> None:
    """A label leaves hyphens out."""
    with shop.work.write() as session:
        session.add(Job(code="J-1", part="Lid", material_id=1, thread="M8"))
    with pytest.raises(Misread, match="more than one thing") as caught:
        find_label(shop.work, J1.scanned)
    assert {J1, Label(Labelled.JOB, "J-1")} == set(caught.value.near)


def test_a_code_that_reads_like_another_label_is_asked_about(shop: Shop) -> None:
    """A job may be called what the label of a tap says."""
    with shop.work.write() as session:
        session.add(Job(code=T1.scanned, part="Lid", material_id=1, thread="M8"))
    with pytest.raises(Misread, match="more than one thing"):
        find_label(shop.work, T1.scanned)


def test_a_field_for_taps_takes_labels_too(shop: Shop) -> None:
    """The bare code, the label with or without the sign of a scan; whatever else stays as it is."""
    assert ["T1"] * 3 == [tap_code(shop.work, text) for text in ("T1", T1.printed, f"${T1.scanned}")]
    assert ["T77", J1.scanned] == [tap_code(shop.work, text) for text in ("T77", J1.scanned)]


def test_what_a_person_points_at_is_taken_exactly(shop: Shop) -> None:
    """By its kind and its code; what is not on record is refused."""
    assert T1 == label_of(shop.work, "T", "T1")
    with pytest.raises(InputError, match="not on record"):
        label_of(shop.work, "J", "T1")
