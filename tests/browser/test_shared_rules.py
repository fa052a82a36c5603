"""What the tablet works out by itself, by the cases that the server is held to as well."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import Page

from shopfloor.web.sync.views import FIELDS
from tests.batch_rules import BREAKS, ENDS, FASTEST, LARGEST, LIMITS, MADE, SINCE, SLIPS_A_HOLE, Entry
from tests.chances_told import INTERVALS, TOLD
from tests.codes_alike import ALIKE, APART
from tests.labels_read import CHECKS, PLAIN, READ, SLIPS, THINGS

NEVER_FROM_THE_PAGE = {"when", "material"}
"""The outbox adds the time as it sends; the material is the job's."""

BATCHES = """async ([rules, made, faults, limits, every]) => {
  const { faultsOf, restOf, runOf } = await import(rules);
  return {
    made: made.map(([typed, offered]) => [Number(runOf(typed).holes), restOf(typed, offered)]),
    faults: faults.map((typed) => [...new Set(faultsOf(typed, limits).map(({ field }) => field))].sort()),
    sent: Object.keys(runOf({ ...every, tap_end: "broken" })),
    still: Object.keys(runOf({ ...every, tap_end: "still good" })),
  };
}"""
SINCE_THEN = """async ([since, rules, ends, cases]) => {
  const { endsSince, soFarNow } = await import(since);
  const { endWords } = await import(rules);
  const ended = (tap_end) => endsSince([{ state: "waiting", sent: { tap: "T1", tap_end } }], 0).has("T1");
  return {
    ends: ends.map((end) => [endWords(end), ended(end)]),
    soFar: cases.map(([told, entries]) => soFarNow(told, entries, "arm")),
  };
}"""
LABELS = """async ([labels, codes, texts, read, slips, things, pairs]) => {
  const { checkDigits, codeKey, oneSlipAway, plain, readLabel } = await import(labels);
  const all = things.map(([kind, code]) => ({ kind, code }));
  return {
    alike: pairs.map(([one, other]) => codeKey(one) === codeKey(other)),
    plain: codes.map(plain),
    checks: texts.map(checkDigits),
    read: read.map((text) => readLabel(text)).map(({ fault, kind, plain: code }) => fault ?? [kind, code]),
    slips: slips.map((text) => oneSlipAway(text, all).map(({ code }) => code)),
  };
}"""
CHANCES = """async ([risk, chances, intervals]) => {
  const { chance, intervalOf } = await import(risk);
  return [chances.map(chance), intervals.map((ends) => intervalOf(...ends))];
}"""


def scripts(page: Page) -> str:
    """The address of the folder of scripts, on a page of the operator's."""
    page.goto("/operator/")
    return re.sub("/bundles/.*", "/js/", page.evaluate("document.querySelector('script[src]').src"))


def test_a_batch_is_the_same_on_tablet_and_server(page: Page) -> None:
    """Holes made, rest of the batch, what is wrong with a break, limits of numbers, and the fields that are sent."""
    broken = {"holes": "48", "rpm": "300", "tap_end": "broken"}
    good = {"holes": "48", "rpm": "300", "tap_end": "still good"}
    faults = [broken | typed for typed, _ in BREAKS] + [good | typed for typed, _ in LIMITS]
    limits = {"largest_batch": LARGEST, "fastest_rpm": FASTEST, "most_slips_a_hole": SLIPS_A_HOLE}
    made = [[typed, offered] for typed, offered, _, _ in MADE]
    rules = f"{scripts(page)}station/batch_rules.js"
    told: dict[str, Any] = page.evaluate(BATCHES, [rules, made, faults, limits, dict.fromkeys(FIELDS, "1")])
    for case, found in zip(MADE, told["made"], strict=True):
        assert [*case[2:]] == found, case
    for (_, fields), typed, found in zip([*BREAKS, *LIMITS], faults, told["faults"], strict=True):
        assert fields == found, typed
    assert FIELDS - NEVER_FROM_THE_PAGE == set(told["sent"])
    assert {"broke_at_hole", "part_fate", "cause"} == set(told["sent"]) - set(told["still"])


def entry(run: Entry) -> dict[str, Any]:
    """An entry of the outbox."""
    station, batch, holes, is_confirmed = run
    confirmed = {"confirmed": "holes"} if is_confirmed else {}
    return {"state": "waiting", "sent": {"station": station, "batch_id": batch, "holes": str(holes), **confirmed}}


def so_far(before: list[Entry]) -> dict[str, Any]:
    """What the server says of the job after runs that all fall to one batch at 'arm'."""
    last = before[-1] if before else None
    left = 200 - sum(holes for _, _, holes, _ in before)
    return {"last_batch": last and last[2], "batch": last and last[1], "left_on_job": left}


def test_the_tablet_counts_on_from_what_the_server_said(page: Page) -> None:
    """The last batch, the holes left, how a tap ended and whether it makes more."""
    cases = [[so_far(before), [entry(run) for run in since]] for before, since, _ in SINCE]
    outbox = f"{scripts(page)}outbox/"
    told = page.evaluate(SINCE_THEN, [f"{outbox}entries_since.js", f"{outbox}rules.js", [*ENDS], cases])
    assert [list(end) for end in ENDS.values()] == told["ends"]
    for case, found in zip(SINCE, told["soFar"], strict=True):
        assert case[2] == (found["last_batch"], found["left_on_job"]), case


def test_the_tablet_reads_labels_as_the_server_does(page: Page) -> None:
    """Which codes are one, what a label holds of one, what is read, and what a misread one may have been."""
    asked = [[*PLAIN], [*CHECKS], [*READ], [*SLIPS], THINGS, [*ALIKE, *APART]]
    told = page.evaluate(LABELS, [f"{scripts(page)}scan/labels.js", *asked])
    read = [list(each) if isinstance(each, tuple) else each for each in READ.values()]
    assert [True] * len(ALIKE) + [False] * len(APART) == told.pop("alike")
    expected = {"plain": [*PLAIN.values()], "checks": [*CHECKS.values()], "read": read, "slips": [*SLIPS.values()]}
    assert expected == told


def test_the_tablet_tells_chances_in_the_servers_words(page: Page) -> None:
    """Rounded as people would say them, and intervals by their ends."""
    told = page.evaluate(CHANCES, [f"{scripts(page)}station/risk.js", [*TOLD], [list(ends) for ends in INTERVALS]])
    assert [[*TOLD.values()], [*INTERVALS.values()]] == told
