"""The outbox of a tablet against a network that does its worst: properties of any order of saves, looks and mishaps."""

from __future__ import annotations

import re
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page

from tests.browser.network import SHEET

NO_OUTBOX = "/new"
"""A page of ours whose own script sends nothing."""

WELL, REQUEST_LOST, ANSWER_LOST, FOREIGN_PAGE, OTHER_WORDS, DOWN, FAULT = (
    "well", "request lost", "answer lost", "foreign page", "other words", "down", "fault",
)  # fmt: skip
MISHAPS = (REQUEST_LOST, ANSWER_LOST, FOREIGN_PAGE, OTHER_WORDS, DOWN, FAULT)

WORK = """async ([folder, steps, fates, closed]) => {
  const { entries, keep, forget } = await import(`${folder}database.js`);
  const tabs = [await import(`${folder}sender.js`), await import(`${folder}sender.js?other-tab`)];
  const addresses = { clock: "/clock", runs: "/runs", taps: "/taps" };
  await forget(await entries());
  const record = new Map(), told = [...fates];
  let serverNow = Date.now() + 60_000;
  const json = (status, body) => new Response(JSON.stringify(body), { status });
  const store = (run) => {
    const problem = (field, what) => ({ field, what, remedy: "" });
    const refused = (...said) => json(409, { error: "not stored", remedy: "", problems: [problem(...said)] });
    if (closed.includes(run.holes)) return refused("job", "it is closed");
    const before = record.get(run.id);
    if (before && before !== JSON.stringify(run)) return refused("id", "another run has it");
    record.set(run.id, JSON.stringify(run));
    return json(before ? 200 : 201, { id: run.id, stored: true });
  };
  const real = globalThis.fetch;
  globalThis.fetch = async (address, options) => {
    const fate = told.shift() ?? "well";
    if (fate === "request lost") throw new TypeError("no network");
    if (fate === "foreign page") return new Response("<h1>Wi-Fi: log in</h1>");
    if (fate === "other words") return json(200, { ok: true });
    if (fate === "down") return json(503, {});
    if (fate === "fault") return json(500, { error: "a fault", remedy: "it is sent again", problems: [] });
    const isClock = address === addresses.clock;
    serverNow += 1000;
    const answer = isClock ? json(200, { now: new Date(serverNow).toISOString() }) : store(JSON.parse(options.body));
    if (fate === "answer lost") throw new TypeError("no network");
    return answer;
  };
  try {
    let holes = 0;
    for (const step of steps) {
      if (step === "save") {
        holes += 1;
        const id = `run-${holes}`, sent = { id, holes, person: "ada", tap: "T1" };
        await keep({ id, kind: "run", state: "waiting", at: Date.now(), attempts: 0, sent, told: {} });
      } else {
        await Promise.all(tabs.slice(0, step === "look" ? 1 : 2).map((tab) => tab.sendAll(addresses)));
      }
    }
    const midway = (await entries()).map(({ id, state }) => [id, state, record.has(id)]);
    told.length = 0;
    await tabs[0].sendAll(addresses);
    const after = (await entries()).map(({ id, state, problems = [], when }) => ({ id, state, problems, when }));
    return { saved: holes, midway, after, stored: [...record.values()].map((run) => JSON.parse(run)) };
  } finally {
    globalThis.fetch = real;
  }
}"""

SETTLED = """async ([folder, cases]) => {
  const { settled } = await import(`${folder}rules.js`);
  return cases.map(([id, answer]) => settled({ id, state: "waiting" }, answer));
}"""
WHEN = """async ([folder, cases]) => {
  const { whenOf } = await import(`${folder}rules.js`);
  return cases.map((one) => whenOf(...one));
}"""

PROBLEM = st.fixed_dictionaries({"field": st.text(max_size=5), "what": st.text(max_size=5), "remedy": st.just("")})
WORDS = st.recursive(st.none() | st.booleans() | st.integers(-5, 5) | st.text(max_size=4), st.lists, max_leaves=4)
IDS, NEARLY_TRUE = st.sampled_from(["a", "b"]), st.sampled_from([True, True, False, 1, "yes"])
NEARLY = st.fixed_dictionaries({"id": IDS, "stored": NEARLY_TRUE})
BODIES = NEARLY | WORDS | st.fixed_dictionaries(
    {},
    optional={
        "id": IDS, "stored": WORDS, "error": WORDS, "remedy": WORDS,
        "problems": st.lists(PROBLEM, max_size=2) | WORDS,
    },
)  # fmt: skip
ANSWERS = st.none() | st.fixed_dictionaries(
    {"status": st.sampled_from([0, 200, 200, 201, 302, 401, 404, 408, 409, 422, 429, 500, 502, 503]), "body": BODIES}
)
MS = st.integers(0, 10**12)


def folder(page: Page) -> str:
    """Where the modules are, on a page that runs none of them."""
    if NO_OUTBOX not in page.url:
        page.goto(NO_OUTBOX)
    return re.sub("/(css|bundles)/.*", "/js/outbox/", page.evaluate(SHEET))


@settings(max_examples=120, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    steps=st.lists(st.sampled_from(["save", "save", "look", "both tabs look"]), min_size=1, max_size=10),
    fates=st.lists(st.sampled_from([WELL, WELL, WELL, ANSWER_LOST, *MISHAPS]), max_size=16),
    closed=st.lists(st.integers(1, 4), max_size=1),
)
def test_every_entry_is_stored_once_or_waits_where_it_is_seen(
    page: Page, steps: list[str], fates: list[str], closed: list[int]
) -> None:
    """Lost requests and answers, foreign pages, a server down or faulty, two tabs: nothing is lost or doubled."""
    found: dict[str, Any] = page.evaluate(WORK, [folder(page), steps, fates, closed])
    for _, state, is_stored in found["midway"]:
        assert state in ("waiting", "saved", "refused")
        assert is_stored or state != "saved"
    assert [f"run-{n}" for n in range(1, found["saved"] + 1)] == [one["id"] for one in found["after"]]
    for one in found["after"]:
        is_refused = int(one["id"].removeprefix("run-")) in closed
        assert one["state"] == ("refused" if is_refused else "saved"), one
        assert bool(one["problems"]) == is_refused
    numbers = [run["holes"] for run in found["stored"]]
    assert sorted(numbers) == [n for n in range(1, found["saved"] + 1) if n not in closed]
    if FAULT not in fates:
        assert numbers == sorted(numbers)
    times = [one["when"] for one in found["after"] if one["when"]]
    assert times == sorted(times)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(["a", "b"]), ANSWERS), min_size=1, max_size=30))
def test_only_the_servers_own_words_settle_an_entry(page: Page, cases: list[tuple[str, dict[str, Any] | None]]) -> None:
    """Whatever answers: saved only by a word that it is stored, refused only with a reason, else it goes on waiting."""
    told = page.evaluate(SETTLED, [folder(page), cases])
    for (identity, answer), found in zip(cases, told, strict=True):
        change = found["change"]
        assert change.get("state") in (None, "saved", "refused")
        if change.get("state") == "saved":
            assert answer is not None
            assert answer["status"] in (200, 201)
            assert (answer["body"]["id"], answer["body"]["stored"]) == (identity, True)
        if change.get("state") == "refused":
            assert answer is not None
            assert isinstance(answer["body"]["problems"], list)
            assert change["problems"]
        if answer is None or answer["status"] in (408, 429, 502, 503):
            assert found == {"change": {}, "goesOn": False}


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(MS, min_size=2, max_size=8), MS, MS, st.integers(-(10**11), 10**11))
def test_times_follow_the_server_and_the_order_of_the_work(
    page: Page, saves: list[int], later: int, server: int, wrong: int
) -> None:
    """However wrong the tablet's clock: the same times, never after the server's now, none before the one before."""
    saves = sorted(saves)
    now = saves[-1] + later
    plain, shifted, since = [], [], [0]
    where = folder(page)
    for at in saves:
        cases = [[at + off, now + off, server, since[-1]] for off in (0, wrong)]
        one, other = page.evaluate(WHEN, [where, cases])
        plain.append(one)
        shifted.append(other)
        since.append(max(since[-1], one))
    assert plain == shifted
    assert plain == sorted(plain)
    assert all(one <= server for one in plain)
    assert all(one == max(server - (now - at), before) for one, at, before in zip(plain, saves, since, strict=False))
