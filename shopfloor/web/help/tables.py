"""The handbook's tables, built from what the program itself reads, answers and allows."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from flask import current_app

from shopfloor.core.input.run_entry import FROM_A_TABLET
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Cause, Confirmed, DepthControl, IsoGroup, Lubricant, PartFate, Role, TapEnd, Word
from shopfloor.services.runs.csv_columns import COLUMNS, REQUIRED
from shopfloor.web.security.roles import NEEDS, allows
from shopfloor.web.sync.views import FIELDS

MEANINGS = {
    "when": phrase(
        "when the run ended: a day or a moment, as 2026-03-31 or 2026-03-31T14:05; of a day no time is shown"
    ),
    "tap": phrase("the tap's code, or any name for 'the tap that is in station 3 since Tuesday'"),
    "tap_type": phrase("what the crib calls it, best with its thread: 3/8-16 spiral point"),
    "material": phrase("the work material; in JSON the job's where it is not given"),
    "rpm": phrase("spindle speed"),
    "holes": phrase("holes tapped by this tap in this run"),
    "tap_end": phrase("how the tap was at the end of the run"),
    "id": phrase("a UUID that identifies this run; in a file, one is made from the row where none is given"),
    "device_time": phrase("what the clock of the tablet said"),
    "person": phrase("who tapped"),
    "station": phrase("where"),
    "job": phrase("for which job"),
    "thread": phrase("the tap type's thread: 3/8-16, #10-32, M8x1"),
    "cutting_slips": phrase("slips of the clutch before the depth is reached; bottoming does not count"),
    "slip_holes": phrase("the hole of each cutting slip, one number a slip: 3 17 17"),
    "depth_control": phrase("what ends the thread at its depth"),
    "lubricant": phrase("how the tap is lubricated"),
    "broke_at_hole": phrase("the hole at which it broke, counted within the run"),
    "part_fate": phrase("what became of the part in which it broke"),
    "cause": phrase("likely cause of the break"),
    "note": phrase("anything else worth noting"),
    "batch_id": phrase("a UUID that joins the runs of one batch"),
    "confirmed": phrase("unusual numbers that were confirmed"),
    "holes_before": phrase("holes on the tap when it was first seen: a number, or 'unknown'"),
    "iso_group": phrase("the material's group by ISO 513"),
}
"""What each field of a run means, in a file as in JSON."""

_WORDS: dict[str, type[Word]] = {
    "tap_end": TapEnd,
    "depth_control": DepthControl,
    "lubricant": Lubricant,
    "part_fate": PartFate,
    "cause": Cause,
    "confirmed": Confirmed,
    "iso_group": IsoGroup,
}
"""The fields that hold one of a few words."""

EXAMPLE_FILE = """when,tap,tap type,material,rpm,holes,tap end,cutting slips
2026-03-30,A1,3/8-16 spiral point,mild steel,300,120,still good,0
2026-03-30T14:05,A1,3/8-16 spiral point,mild steel,300,85,worn,3
2026-03-31,A2,3/8-16 spiral point,mild steel,300,140,still good,
"""
"""The smallest file that shows what matters."""

EXAMPLE_RUN = {
    "id": "0197b2c4-8a00-7000-8000-000000000001",
    "when": "2026-03-31T14:05+02:00",
    "person": "ada",
    "station": "arm-1",
    "job": "J-1",
    "tap": "T0001",
    "rpm": 300,
    "holes": 48,
    "cutting_slips": 0,
    "tap_end": "still good",
}
"""A run as a program sends it."""

ANSWERS = {
    201: phrase("stored"),
    200: phrase("the same run was stored before and nothing changed: a run may be sent until it is answered"),
    400: phrase("a field or the body is wrong, or a code is unknown: correct it and send it again"),
    401: phrase("PINs are in use, and the person has not given theirs at this tablet"),
    403: phrase("the request comes from a page of another site"),
    404: phrase("there is nothing at this address"),
    405: phrase("the address takes another method"),
    409: phrase("another run has this id, or the record says otherwise, as of a tap that broke already"),
    413: phrase("more than a megabyte, or a photograph of more than 500 kB"),
    415: phrase("the request does not say that it is JSON, or the picture is none"),
    429: phrase("too many wrong PINs: wait as long as the answer says"),
    500: phrase("our fault; nothing was stored: send it again"),
    503: phrase("the database cannot be reached; nothing was stored: send it again"),
}
"""What each status says."""

ENDPOINTS = {
    "sync.store_run": phrase("store one run"),
    "sync.take_back_run": phrase("take a fresh run back"),
    "sync.store_photograph": phrase(
        "a JPEG, PNG or WebP picture of the tap that broke in that run, under an id that the sender makes"
    ),
    "sync.fit_tap_from_box": phrase("fit a new tap from the box: id, tap, tap_type, station, person"),
    "sync.give_pin": phrase("a PIN, for what waits on this tablet"),
    "sync.still_here": phrase("somebody touches the tablet"),
    "sync.lock": phrase("log everybody out at this tablet"),
    "sync.clock": phrase("the server's time"),
    "sync.threads": phrase("standard threads that a text may become"),
    "sync.lists": phrase("lists that a tablet keeps to choose from offline"),
    "sync.advice": phrase("risks and suggestions that a tablet keeps for use offline"),
}

_ACTIONS = {
    "operator.save": phrase("log batches, change taps, see everything"),
    "operator.correct": phrase("correct or cancel entries and gauge checks, with a reason; record gauge checks"),
    "crib.book_received": phrase("receive, count and move taps; name tap types"),
    "quality.correct_incident": phrase("correct incidents, cancel photographs"),
    "setup.add_thing": phrase("name people, stations, materials and jobs"),
    "access.give_secret": phrase("decide who gets in: PINs, passwords, tablets"),
}
"""What people do, by a representative endpoint."""


_PART = re.compile(r"<(?:\w+:)?(\w+)>")
"""A variable part of an address."""


@dataclass(frozen=True)
class Column:
    """A field of a run: its heading in a file, other accepted headings, and its permitted words."""

    field: str
    heading: str
    also: Sequence[str]

    @property
    def meaning(self) -> str:
        """What it says."""
        return MEANINGS[self.field]

    @property
    def words(self) -> Sequence[str]:
        """The words that it may hold; none where it is free."""
        return [word.value for word in _WORDS[self.field]] if self.field in _WORDS else []


@dataclass(frozen=True)
class Endpoint:
    """An address that programs and tablets use."""

    method: str
    address: str
    purpose: str


def columns(*, must: bool) -> Iterator[Column]:
    """The required columns of an import, or the optional ones."""
    for field, headings in COLUMNS.items():
        if must == (field in REQUIRED):
            yield Column(field, headings[0], headings[1:])


def fields(*, must: bool) -> Iterator[Column]:
    """The required fields of a run in JSON, or the optional ones."""
    for field in MEANINGS:
        if field in FIELDS and must == (field in FROM_A_TABLET):
            yield Column(field, field, ())


def example_run() -> str:
    """A run as a program sends it."""
    return json.dumps(EXAMPLE_RUN, indent=2)


def endpoints() -> Iterator[Endpoint]:
    """Every address for programs and tablets, the one that stores a run first."""
    rules = {rule.endpoint: rule for rule in current_app.url_map.iter_rules()}
    for endpoint, purpose in ENDPOINTS.items():
        rule = rules[endpoint]
        method = "POST" if "POST" in (rule.methods or ()) else "GET"
        yield Endpoint(method, _PART.sub(lambda part: part[1].upper(), rule.rule), purpose)


def rights() -> Iterator[tuple[str, Sequence[bool]]]:
    """What people do, and for each role whether it may."""
    for endpoint, action in _ACTIONS.items():
        yield action, [allows(NEEDS[endpoint], role) for role in Role]


def roles() -> Sequence[str]:
    """The roles, in the order of `rights`."""
    return [role.label for role in Role]
