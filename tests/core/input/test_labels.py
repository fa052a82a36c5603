"""What labels say, and that no single slip in typing one goes unseen."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.errors import InputError
from shopfloor.core.input.labels import Label, Labelled, check_digits, one_slip_away, plain, read_label
from tests.labels_read import CHECKS, PLAIN, READ, SLIPS, THINGS

SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
LABELS = [
    Label(Labelled.TAP, "T0001"),
    Label(Labelled.TAP, "7"),
    Label(Labelled.JOB, "J-1002"),
    Label(Labelled.STATION, "arm-1"),
    Label(Labelled.JOB, "ZZ 99/OIL-0115B8-2026"),
]

tap = LABELS[0]


def mod_97_10(digits: str) -> str:
    """The check digits of a string of digits by the book (02 to 98): the whole leaves 1 when divided by 97."""
    return next(f"{check:02d}" for check in range(2, 99) if int(digits + f"{check:02d}") % 97 == 1)


def with_one_wrong(text: str) -> Iterator[str]:
    """Every text that differs in one character."""
    for at, right in enumerate(text):
        yield from (text[:at] + sign + text[at + 1 :] for sign in SIGNS if sign != right)


def with_two_swapped(text: str) -> Iterator[str]:
    """Every other text that has two characters the other way round, neighbours or not."""
    for at in range(len(text)):
        for other in range(at):
            if text[at] != text[other]:
                signs = list(text)
                signs[at], signs[other] = signs[other], signs[at]
                yield "".join(signs)


def is_seen(text: str) -> bool:
    """Whether the text is refused."""
    try:
        read_label(text)
    except InputError:
        return True
    return False


def test_the_scheme_is_mod_97_10() -> None:
    """ISO/IEC 7064 MOD 97-10: 794 gets 44 (an example of the standard, from memory; 79444 leaves 1 mod 97)."""
    assert "44" == mod_97_10("794")
    assert mod_97_10("29290001") == check_digits("TT01")  # T is 29, 0 is 00, 1 is 01


@given(st.text(SIGNS, min_size=1, max_size=40))
def test_check_digits_are_those_of_the_number_with_two_digits_a_character(text: str) -> None:
    """The slow and obvious way gives the same."""
    assert mod_97_10("".join(f"{SIGNS.index(sign):02d}" for sign in text)) == check_digits(text)


@pytest.mark.parametrize("label", LABELS, ids=lambda label: label.scanned)
def test_every_wrong_character_is_seen(label: Label) -> None:
    """Whichever character stands in place of whichever: the kind's letter, the code's, a check digit."""
    assert [] == [text for text in with_one_wrong(label.scanned) if not is_seen(text)]


@pytest.mark.parametrize("label", LABELS, ids=lambda label: label.scanned)
def test_every_swap_of_two_characters_is_seen(label: Label) -> None:
    """Neighbours as well as characters far apart, check digits among them."""
    assert [] == [text for text in with_two_swapped(label.scanned) if not is_seen(text)]


def test_no_slip_goes_unseen_up_to_45_characters() -> None:
    """Every weight, every pair of values: what a slip adds to the number is never a multiple of 97."""
    weights = [1, 10, *(pow(100, place, 97) for place in range(1, 46))]
    for at, weight in enumerate(weights):
        assert all(difference * weight % 97 for difference in range(1, 36))
        assert all(difference * (weight - other) % 97 for other in weights[:at] for difference in range(1, 36))


@pytest.mark.parametrize("label", LABELS, ids=lambda label: label.scanned)
def test_a_label_is_read_however_it_is_written(label: Label) -> None:
    """As scanned, as printed, in small letters, with spaces."""
    for text in (label.scanned, label.printed, label.printed.lower(), f" {label.printed.replace('-', ' ')}\n"):
        assert read_label(text).names(label)


def test_a_label_keeps_the_shops_own_code() -> None:
    """The code in it is the one that stands on the tap already."""
    assert ("T-T0001-37", "TT000137") == (tap.printed, tap.scanned)


def test_kinds_are_told_apart() -> None:
    """A tap and a job of the same code have different labels."""
    read = read_label(Label(Labelled.JOB, "7").scanned)
    assert (True, False) == (read.names(Label(Labelled.JOB, "7")), read.names(Label(Labelled.TAP, "7")))


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "nothing was read"),
        ("  -/ ", "nothing was read"),
        ("T0001", "'T0001' was read, but its check digits do not match"),
        ("T", "'T' is not a complete label"),
        ("XT000137", "'XT000137' is not a complete label"),
        ("TT000137" * 50, "is not a complete label"),
    ],
)
def test_what_is_no_label_is_named(text: str, what: str) -> None:
    """The message repeats what was read and tells how a label looks."""
    with pytest.raises(InputError) as caught:
        read_label(text)
    (problem,) = caught.value.problems
    assert what in problem.what or "do not agree" in problem.what
    assert problem.remedy


@pytest.mark.parametrize("slip", ["TT001037", "TT0O0137", "TT000173"])
def test_the_label_that_was_meant_is_found(slip: str) -> None:
    """Two swapped, a letter O for a zero, check digits the wrong way round."""
    assert [tap] == one_slip_away(slip, LABELS)


def test_two_slips_are_not_guessed_at() -> None:
    """Where more than one thing is wrong nobody can tell what was meant."""
    assert [] == one_slip_away("TT0O0138", LABELS)


def test_a_code_keeps_letters_and_digits_alone() -> None:
    """Marks on letters, signs between them and small letters are no part of what is scanned."""
    assert ("ARM1", "BOCHUM", "") == (plain("arm-1"), plain("Böchüm"), plain("--"))


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Whatever a scanner sends, nothing else comes of it."""
    assert is_seen(text) in (True, False)


FAULTS = {"nothing was read": "nothing", "is not a complete label": "no label", "do not match": "check"}


def read_or_fault(text: str) -> tuple[str, str] | str:
    """The kind's letter and the plain code, or the word for what is wrong."""
    try:
        found = read_label(text)
    except InputError as error:
        return next(word for words, word in FAULTS.items() if words in str(error))
    return found.kind.value, found.plain


def test_labels_are_read_as_on_a_tablet() -> None:
    """The cases that both are held to."""
    kinds = {kind.value: kind for kind in Labelled}
    labels = [Label(kinds[kind], code) for kind, code in THINGS]
    assert PLAIN == {code: plain(code) for code in PLAIN}
    assert CHECKS == {text: check_digits(text) for text in CHECKS}
    assert READ == {text: read_or_fault(text) for text in READ}
    assert SLIPS == {text: [label.code for label in one_slip_away(text, labels)] for text in SLIPS}
