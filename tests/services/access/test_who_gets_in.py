"""Who gets in: PINs, passwords, enrolled tablets, waits after wrong ones, and what a log-in proves."""

from __future__ import annotations

from datetime import timedelta

import pytest
from argon2 import extract_parameters
from sqlalchemy import func, select

from shopfloor.core.errors import Conflict, InputError
from shopfloor.core.input.access_entries import Access
from shopfloor.core.vocabulary import Attempt, Role
from shopfloor.services.access import credentials, tablets
from shopfloor.services.access.attempts import TooSoon, last_attempts, release, release_tablet
from shopfloor.services.access.hashing import fits, hashed
from shopfloor.services.access.log_in import Who, confirm, known_again, sign_in, sign_out, touch, vouches
from shopfloor.services.access.rules import access, change_access, use_pins
from shopfloor.services.runs.runs import log_run, undo_run
from shopfloor.store import PersonSecret, SignIn, SignInAttempt, Tablet
from tests.factories import Shop
from tests.services.conftest import ON_BOTH

PIN, PASSWORD = "271828", "seven blunt taps"
RULES = Access(is_in_use=True)


def twice(person: str, secret: str) -> dict[str, object]:
    """What a form says of a new secret."""
    return {"person": person, "secret": secret, "again": secret}


def opened(shop: Shop) -> int:
    """Bo is the supervisor, Ada has a PIN, one tablet is enrolled; returns its number."""
    credentials.first_supervisor(shop.work, twice("bo", PASSWORD))
    credentials.give_secret(shop.work, twice("ada", PIN))
    return tablets.enrol(shop.work, "Arm 1", "bo")[0]


def who(shop: Shop, token: str, tablet: int | None) -> Who | None:
    """Who works under a token."""
    return known_again(shop.work, RULES, token, tablet)


def wrong(shop: Shop, times: int, tablet: int | None, person: str = "ada") -> None:
    """So many wrong PINs."""
    for _ in range(times):
        with pytest.raises(InputError, match="it does not fit"):
            sign_in(shop.work, person, "000001", tablet)


def test_a_pin_logs_in_at_an_enrolled_tablet(shop: Shop) -> None:
    """It gives no right beyond an operator's; nothing of it or of the token is stored as it is."""
    tablet = opened(shop)
    token = sign_in(shop.work, "ADA", PIN, tablet)
    found = who(shop, token, tablet)
    assert found is not None
    assert ("ada", frozenset(), tablet) == (found.code, found.roles, found.tablet)
    with shop.work.read() as session:
        kept = [*session.scalars(select(PersonSecret.secret_hash)), *session.scalars(select(SignIn.token_hash))]
    assert not [value for value in kept for secret in (PIN, PASSWORD, token) if value and secret in value]


def test_a_pin_is_worth_nothing_elsewhere(shop: Shop) -> None:
    """Without the tablet it is as wrong as any other; the log-in of one tablet is none at another."""
    tablet = opened(shop)
    other, _ = tablets.enrol(shop.work, "Arm 2", "bo")
    with pytest.raises(InputError, match="it does not fit"):
        sign_in(shop.work, "ada", PIN, None)
    assert who(shop, sign_in(shop.work, "ada", PIN, tablet), other) is None


def test_a_password_logs_in_anywhere_with_its_roles(shop: Shop) -> None:
    """A supervisor need not have a tablet."""
    opened(shop)
    found = who(shop, sign_in(shop.work, "bo", PASSWORD, None), None)
    assert found is not None
    assert {Role.CRIB, Role.ADMIN} == found.roles
    assert found.is_supervisor


def test_unknown_and_wrong_are_answered_alike(sqlite_shop: Shop) -> None:
    """Nobody learns who works here, nor by a wait: an unknown name has to wait as well."""
    tablet = opened(sqlite_shop)
    for person in ("nobody", "bo"):
        wrong(sqlite_shop, 5, tablet, person)
        with pytest.raises(TooSoon, match="wait 30 s"):
            sign_in(sqlite_shop.work, person, PIN, tablet)
        release_tablet(sqlite_shop.work, tablet)
    assert {"Bo L.", None} == {tried.who for tried in last_attempts(sqlite_shop.work) if tried.outcome is Attempt.WRONG}


def test_a_name_that_nobody_has_is_not_written_down(sqlite_shop: Shop) -> None:
    """Somebody may have typed the password there."""
    opened(sqlite_shop)
    wrong(sqlite_shop, 1, None, PASSWORD)
    with sqlite_shop.work.read() as session:
        assert not [code for code in session.scalars(select(SignInAttempt.code)) if PASSWORD in code]


def test_waits_are_for_the_tablet_where_guesses_came_from(shop: Shop) -> None:
    """30 s after the fifth wrong one, a minute after the sixth; a right one begins anew; other tablets do not wait."""
    tablet = opened(shop)
    other, _ = tablets.enrol(shop.work, "Arm 2", "bo")
    wrong(shop, 5, tablet)
    for person, secret in (("ada", PIN), ("bo", PASSWORD)):
        with pytest.raises(TooSoon, match="wait 30 s"):
            sign_in(shop.work, person, secret, tablet)
    sign_in(shop.work, "ada", PIN, other)
    sign_in(shop.work, "bo", PASSWORD, other)
    shop.clock.move(seconds=31)
    wrong(shop, 1, tablet)
    with pytest.raises(TooSoon, match="wait 60 s"):
        sign_in(shop.work, "ada", PIN, tablet)
    shop.clock.move(seconds=61)
    sign_in(shop.work, "ada", PIN, tablet)
    wrong(shop, 4, tablet)
    sign_in(shop.work, "ada", PIN, tablet)


def test_a_supervisor_ends_a_wait(sqlite_shop: Shop) -> None:
    """For the person, and for the tablet."""
    tablet = opened(sqlite_shop)
    wrong(sqlite_shop, 5, tablet)
    assert [True, False] == [holder.has_to_wait for holder in credentials.holders(sqlite_shop.work)]
    release(sqlite_shop.work, "ada")
    release_tablet(sqlite_shop.work, tablet)
    sign_in(sqlite_shop.work, "ada", PIN, tablet)


@ON_BOTH
def test_every_attempt_is_on_record(shop: Shop) -> None:
    """Right, wrong, and the one that had to wait; newest first."""
    tablet = opened(shop)
    wrong(shop, 5, tablet)
    with pytest.raises(TooSoon):
        sign_in(shop.work, "ada", PIN, tablet)
    shop.clock.move(minutes=1)
    sign_in(shop.work, "ada", PIN, tablet)
    tried = last_attempts(shop.work)
    assert [Attempt.RIGHT, Attempt.TOO_SOON, *[Attempt.WRONG] * 5] == [one.outcome for one in tried]
    assert {("Ada K.", "Arm 1")} == {(one.who, one.tablet) for one in tried}


@ON_BOTH
def test_a_log_in_ends_by_itself(shop: Shop) -> None:
    """Ten minutes after the last touch, and after a shift at the latest."""
    tablet = opened(shop)
    token = sign_in(shop.work, "ada", PIN, tablet)
    for _ in range(66):
        shop.clock.move(minutes=9)
        found = who(shop, token, tablet)
        assert found is not None
        touch(shop.work, found.sign_in)
    shop.clock.move(minutes=9)
    assert who(shop, token, tablet) is None
    token = sign_in(shop.work, "ada", PIN, tablet)
    shop.clock.move(minutes=10, seconds=1)
    assert who(shop, token, tablet) is None


@ON_BOTH
def test_only_one_is_at_a_tablet(shop: Shop) -> None:
    """Whoever logs in takes it over; logging out ends it at once; each time the token is another."""
    tablet = opened(shop)
    first = sign_in(shop.work, "ada", PIN, tablet)
    second = sign_in(shop.work, "bo", PASSWORD, tablet)
    found = who(shop, second, tablet)
    assert (None, "bo") == (who(shop, first, tablet), found and found.code)
    sign_out(shop.work, found.sign_in if found else 0)
    assert who(shop, second, tablet) is None


def test_a_new_pin_and_a_revoked_tablet_end_log_ins(shop: Shop) -> None:
    """At once, wherever they were made."""
    number = opened(shop)
    token = sign_in(shop.work, "ada", PIN, number)
    credentials.give_secret(shop.work, twice("ada", "314159"))
    assert who(shop, token, number) is None
    tablet, key = tablets.enrol(shop.work, "Arm 2", "bo")
    token = sign_in(shop.work, "ada", "314159", tablet)
    assert (tablet, "Arm 2") == ((here := tablets.tablet_of(shop.work, key)) and here.id, here and here.name)
    tablets.revoke(shop.work, tablet)
    assert (None, None) == (tablets.tablet_of(shop.work, key), who(shop, token, tablet))


def test_what_a_log_in_vouches_for(shop: Shop) -> None:
    """What was done at the tablet up to the log-in's end; with the PIN given later on, all before that."""
    tablet = opened(shop)
    sign_in(shop.work, "ada", PIN, tablet)
    start = shop.clock()

    def is_vouched_for(minutes: float, person: str = "ada", place: int = tablet) -> bool:
        return vouches(shop.work, RULES, person, place, start + timedelta(minutes=minutes))

    shop.clock.move(hours=2)
    assert [True, True, False, False] == [is_vouched_for(minutes) for minutes in (0, 9, 11, 100)]
    confirm(shop.work, "ada", PIN, tablet)
    assert [True, True, False] == [is_vouched_for(minutes) for minutes in (11, 100, 121)]
    assert not is_vouched_for(9, "bo")
    assert not is_vouched_for(9, place=tablet + 1)


def test_confirming_changes_nobody(shop: Shop) -> None:
    """Bo stays logged in while Ada vouches for hers; a wrong PIN vouches for nothing."""
    tablet = opened(shop)
    token = sign_in(shop.work, "bo", PASSWORD, tablet)
    with pytest.raises(InputError, match="it does not fit"):
        confirm(shop.work, "ada", "000001", tablet)
    assert not vouches(shop.work, RULES, "ada", tablet, shop.clock())
    confirm(shop.work, "ada", PIN, tablet)
    assert vouches(shop.work, RULES, "ada", tablet, shop.clock())
    assert "bo" == ((found := who(shop, token, tablet)) and found.code)


def test_only_ones_own_entry_is_undone(shop: Shop) -> None:
    """On any tablet, as long as undoing takes no reason; somebody else's is left alone."""
    run = log_run(shop.work, shop.entry()).run_id
    with pytest.raises(Conflict, match="it is somebody else's"):
        undo_run(shop.work, run, by="bo")
    undo_run(shop.work, run, by="ada")


def test_the_cost_of_guessing() -> None:
    """Argon2id with 19 MiB, two passes, one lane (OWASP, Password Storage Cheat Sheet); salted."""
    first, second = hashed(PIN), hashed(PIN)
    parameters = extract_parameters(first)
    assert (19 * 1024, 2, 1) == (parameters.memory_cost, parameters.time_cost, parameters.parallelism)
    assert first.startswith("$argon2id$")
    assert first != second
    assert [True, False, False] == [fits(first, PIN), fits(first, "314159"), fits(None, PIN)]


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (twice("ada", "12345"), "use 6 to 8 digits"),
        (twice("ada", "123456"), "neither all alike nor in a row"),
        (twice("bo", "271828"), "use 8 to 128"),
        (twice("nobody", PIN), "is not a person of this shop"),
        ({"person": "ada", "secret": PIN, "again": "271829"}, "type the same twice"),
    ],
)
def test_secrets_that_are_refused(sqlite_shop: Shop, raw: dict[str, object], told: str) -> None:
    """An operator has a PIN, whoever may do more a password."""
    with pytest.raises(InputError, match=told):
        credentials.give_secret(sqlite_shop.work, raw)
    with sqlite_shop.work.read() as session:
        assert 0 == session.scalar(select(func.count()).select_from(PersonSecret))


def test_the_first_supervisor_is_made_once(sqlite_shop: Shop) -> None:
    """Afterwards only a supervisor, or whoever keeps the server, makes another."""
    credentials.first_supervisor(sqlite_shop.work, twice("bo", PASSWORD))
    with pytest.raises(Conflict, match="there is a supervisor already"):
        credentials.first_supervisor(sqlite_shop.work, twice("ada", PASSWORD))


def test_tablets_have_names_of_their_own(sqlite_shop: Shop) -> None:
    """A revoked one leaves its name; the token is kept as a fingerprint only."""
    number, token = tablets.enrol(sqlite_shop.work, "Arm 1", "bo")
    with pytest.raises(InputError, match="is enrolled already"):
        tablets.enrol(sqlite_shop.work, " Arm 1 ", "bo")
    tablets.revoke(sqlite_shop.work, number)
    again, _ = tablets.enrol(sqlite_shop.work, "Arm 1", "bo")
    assert [again, number] == [one.id for one in tablets.tablets(sqlite_shop.work)]
    with sqlite_shop.work.read() as session:
        assert token not in session.scalars(select(Tablet.token_hash)).all()


def test_the_rules_travel_with_the_record(sqlite_shop: Shop) -> None:
    """PINs are out of use until somebody puts them into use; what cannot be is told field by field."""
    assert Access() == access(sqlite_shop.work)
    raw = {"is_in_use": "yes", "idle_minutes": "5", "shift_hours": "9", "shortest_pin": "4"}
    assert Access(True, 5, 9, 4) == change_access(sqlite_shop.work, raw) == access(sqlite_shop.work)
    use_pins(sqlite_shop.work, is_in_use=False)
    assert Access(False, 5, 9, 4) == access(sqlite_shop.work)
    with pytest.raises(InputError) as refused:
        change_access(sqlite_shop.work, {"idle_minutes": "0", "shift_hours": "x", "shortest_pin": "3"})
    assert ["idle_minutes", "shift_hours", "shortest_pin"] == [one.field for one in refused.value.problems]
