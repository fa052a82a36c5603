"""The incident of a break put right or taken back: the list tells the newest, the page all that was told."""

from __future__ import annotations

import uuid
from functools import partial
from io import StringIO
from typing import Any

import pytest
from sqlalchemy import select

from shopfloor.core.errors import Conflict, InputError, NotFound
from shopfloor.core.input.incident_report import IncidentCorrection
from shopfloor.core.vocabulary import Cause, PartFate, TapEnd
from shopfloor.services.crib.orders import ledger
from shopfloor.services.quality.breakage import incidents
from shopfloor.services.quality.incidents import BreakIncident, cancel_incident, correct_incident, incident_of
from shopfloor.services.record.life_summaries import rebuild
from shopfloor.services.record.revisions import Standing
from shopfloor.services.runs.csv_export import export_runs
from shopfloor.services.runs.runs import cancel_run, correct_run, log_run
from shopfloor.services.station.log_entries import entry_of
from shopfloor.store import Incident, Run
from tests.factories import Shop
from tests.services.batches import broken
from tests.services.conftest import ON_BOTH
from tests.services.looking import breaks, tables
from tests.services.stock import M8

WHY = ("looked at the scrap", "bo")


def change(incident: BreakIncident, **fields: Any) -> IncidentCorrection:
    """What the incident should say: chips packed, and the same of the part."""
    seen = incident.present.id if incident.present else None
    values = {"id": uuid.uuid4(), "seen": seen, "cause": Cause.CHIPS_PACKED, "account": "Deep.", "fate": incident.fate}
    return IncidentCorrection(**{**values, **fields})


@ON_BOTH
def test_a_corrected_story_tells_what_it_told_before(shop: Shop) -> None:
    """The list, the run's entry and the export say the newest; who, when and why stay."""
    run = broken(shop)
    shop.clock.move(minutes=5)
    correct_incident(shop.work, run, change(incident_of(shop.work, run)), *WHY)
    (shown,) = breaks(incidents(shop.work))
    assert (Cause.CHIPS_PACKED, "Deep.") == (shown.cause, shown.account)
    assert ((Cause.CHIPS_PACKED, 1),) == incidents(shop.work).by_cause
    assert Cause.CHIPS_PACKED is entry_of(shop.work, run).cause
    old, new = incident_of(shop.work, run).versions
    assert (Cause.TOO_FAST, "Loud.", "Ada K.") == (old.cause, old.account, old.by)
    assert old.change is not None
    assert ("Bo L.", shop.clock(), "looked at the scrap") == (old.change.by, old.change.at, old.change.reason)
    assert (Standing.CORRECTED, Standing.SAVED) == (old.standing, new.standing)


def test_the_export_has_the_newest_cause(sqlite_shop: Shop) -> None:
    """And none where the incident was taken back."""
    run = broken(sqlite_shop)
    correct_incident(sqlite_shop.work, run, change(incident_of(sqlite_shop.work, run)), *WHY)
    assert [True, False] == [cause in exported(sqlite_shop) for cause in ("chips packed", "too fast")]
    cancel_incident(sqlite_shop.work, run, incident(sqlite_shop, run), *WHY)
    assert [False, False] == [cause in exported(sqlite_shop) for cause in ("chips packed", "too fast")]


def exported(shop: Shop) -> str:
    """The log as CSV."""
    out = StringIO()
    export_runs(shop.work, out)
    return out.getvalue()


def incident(shop: Shop, run: uuid.UUID) -> uuid.UUID:
    """The incident that counts."""
    present = incident_of(shop.work, run).present
    assert present is not None
    return present.id


def test_the_fate_of_the_part_is_the_runs(shop: Shop) -> None:
    """The run is superseded with it; life, stock and what was said before stay whole."""
    run = broken(shop)
    stock, kept = ledger(shop.work, M8).balance, tables(shop)
    shop.clock.move(minutes=1)
    new = change(incident_of(shop.work, run), fate=PartFate.SCRAPPED)
    correct_incident(shop.work, run, new, *WHY)
    correct_incident(shop.work, run, new, *WHY)
    told = incident_of(shop.work, run)
    assert (PartFate.SCRAPPED, [PartFate.GOOD]) == (told.fate, [former.fate for former in told.fates])
    assert told.fates[0].change is not None
    assert ("Bo L.", "looked at the scrap") == (told.fates[0].change.by, told.fates[0].change.reason)
    assert (stock, kept) == (ledger(shop.work, M8).balance, tables(shop))
    rebuild(shop.work)
    assert kept == tables(shop)
    with shop.work.read() as session:
        assert 2 == len(session.scalars(select(Run)).all())


def test_a_cancelled_story_leaves_the_break(shop: Shop) -> None:
    """Its cause is not known then; it may be told anew."""
    run = broken(shop)
    first = incident(shop, run)
    cancel_incident(shop.work, run, first, *WHY)
    cancel_incident(shop.work, run, first, "again", "bo")
    (shown,) = breaks(incidents(shop.work))
    assert (Cause.NOT_KNOWN, None, None) == (shown.cause, shown.account, incident_of(shop.work, run).present)
    assert ((Cause.NOT_KNOWN, 1),) == incidents(shop.work).by_cause
    shop.clock.move(minutes=1)
    correct_incident(shop.work, run, change(incident_of(shop.work, run)), *WHY)
    assert [Cause.CHIPS_PACKED] == [one.cause for one in breaks(incidents(shop.work))]
    assert [Standing.CANCELLED, Standing.SAVED] == [one.standing for one in incident_of(shop.work, run).versions]


def test_nobody_overwrites_what_they_did_not_see(shop: Shop) -> None:
    """The incident that was read is no longer the one that counts."""
    run = broken(shop)
    read = incident_of(shop.work, run)
    correct_incident(shop.work, run, change(read), *WHY)
    for action in (
        partial(correct_incident, shop.work, run, change(read)),
        partial(cancel_incident, shop.work, run, read.versions[0].id),
        partial(cancel_incident, shop.work, run, None),
    ):
        with pytest.raises(
            Conflict, match="incident: it was corrected or cancelled in the meantime; open the page again"
        ):
            action(*WHY)
    cancel_incident(shop.work, run, incident(shop, run), *WHY)
    with pytest.raises(Conflict, match="incident: there is none"):
        cancel_incident(shop.work, run, None, *WHY)


def test_an_id_tells_one_story(shop: Shop) -> None:
    """Sent under the id of another break's incident it is refused."""
    run = broken(shop)
    other = log_run(shop.work, shop.entry(tap="T1", tap_end=TapEnd.BROKEN)).run_id
    wrong = change(incident_of(shop.work, other), id=incident(shop, run))
    with pytest.raises(Conflict, match="used by another incident"):
        correct_incident(shop.work, other, wrong, *WHY)


def test_a_corrected_run_keeps_the_account_that_was_put_right(shop: Shop) -> None:
    """The operator corrects the cause; what quality wrote of the break stays."""
    run = broken(shop)
    correct_incident(shop.work, run, change(incident_of(shop.work, run)), *WHY)
    with shop.work.read() as session:
        ended_at = session.get_one(Run, run).ended_at
    said = {"tap": "N1", "tap_end": TapEnd.BROKEN, "cause": Cause.BOTTOMED, "note": "Loud.", "ended_at": ended_at}
    shop.clock.move(minutes=1)
    newer = correct_run(shop.work, run, shop.entry(**said), "saw it", "ada").run_id
    (shown,) = breaks(incidents(shop.work))
    assert (Cause.BOTTOMED, "Deep.") == (shown.cause, shown.account)
    assert incident_of(shop.work, run) == incident_of(shop.work, newer)
    assert 3 == len(incident_of(shop.work, run).versions)


def test_what_did_not_break_has_no_story(shop: Shop) -> None:
    """A run that is good, was cancelled, or never was."""
    run = broken(shop)
    good = log_run(shop.work, shop.entry(tap="T2")).run_id
    cancel_run(shop.work, run, *WHY)
    for id_ in (run, good, uuid.uuid4()):
        new = IncidentCorrection(uuid.uuid4(), None, Cause.BOTTOMED, None, None)
        for action in (
            partial(incident_of, shop.work, id_),
            partial(correct_incident, shop.work, id_, new, *WHY),
            partial(cancel_incident, shop.work, id_, None, *WHY),
        ):
            with pytest.raises(NotFound):
                action()


@pytest.mark.parametrize(
    ("reason", "by", "told"), [(" ", "bo", "reason: it is missing"), ("so", "eve", "is not a person")]
)
def test_who_and_why_are_asked(sqlite_shop: Shop, reason: str, by: str, told: str) -> None:
    """Neither a correction nor a cancellation goes without."""
    run = broken(sqlite_shop)
    for action in (
        partial(correct_incident, sqlite_shop.work, run, change(incident_of(sqlite_shop.work, run))),
        partial(cancel_incident, sqlite_shop.work, run, incident(sqlite_shop, run)),
    ):
        with pytest.raises(InputError, match=told):
            action(reason, by)
    with sqlite_shop.work.read() as session:
        assert 1 == len(session.scalars(select(Incident)).all())
