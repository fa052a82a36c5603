"""Printed labels of taps, jobs and stations: what they hold, and what a scanner or a finger made of it.

A label holds the kind's letter, the shop's own code and two check digits: `T-T0001-37`. The scanned form leaves out
whatever moves on foreign keyboards (`TT000137`); what is typed may leave it out, too.

Check digits are MOD 97-10 (ISO/IEC 7064) over each character as two digits: they detect every wrong character and every
swap of two characters in up to 45 (a test tries them all). MOD 37,36 misses some swaps of neighbours, and MOD 37,2
needs a `*`, which moves on foreign keyboards. A code without check digits is never accepted without asking.
`static/js/scan/labels.js` holds the same rules.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from shopfloor.core.errors import InputError
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase
from shopfloor.core.vocabulary import Word

CODE = "code"
"""The field that problems with a label are reported under."""

_SIGNS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_NO_SIGN = re.compile(f"[^{_SIGNS}]")
_WHOLE = re.compile("([TJS])([0-9A-Z]{1,64})([0-9]{2})")
LONGEST_SCANNED = 200
"""Characters that are looked at; whatever follows was not on the label."""
_SHAPE = phrase(
    "a label reads like T-T0001-37: T for a tap, J for a job or S for a station, the code, two check digits"
)


class Labelled(Word):
    """What can carry a label; the value is the first letter of the label."""

    TAP = "T", "Tap"
    JOB = "J", "Job"
    STATION = "S", "Station"


@dataclass(frozen=True)
class Label:
    """The label of one thing: its kind, and the code by which the shop knows it."""

    kind: Labelled
    code: str

    @property
    def check(self) -> str:
        """Its two check digits."""
        return check_digits(self.kind.value + plain(self.code))

    @property
    def scanned(self) -> str:
        """What a scanner reads: capital letters and digits only."""
        return f"{self.kind.value}{plain(self.code)}{self.check}"

    @property
    def printed(self) -> str:
        """What people read, and may type where nothing can be scanned."""
        return f"{self.kind.value}-{self.code}-{self.check}"


def plain(code: str) -> str:
    """A code as labels hold it: capital letters A to Z and digits, nothing else.

    Parameters
    ----------
    code : str    as the shop writes it, or as it was typed

    Returns
    -------
    str           'ARM1' for 'arm-1', 'BOCHUM' for 'Böchüm'; empty if no such character remains
    """
    return _NO_SIGN.sub("", unicodedata.normalize("NFKD", code).upper())


def check_digits(text: str) -> str:
    """The two digits that follow `text`, so that a typing mistake is noticed.

    They detect every single wrong character and every swap of two, near or far, up to 45 characters.

    Parameters
    ----------
    text : str    capital letters and digits

    Returns
    -------
    str           two digits

    Notes
    -----
    MOD 97-10 on the number obtained by writing each character as two digits, 00 for '0' to 35 for 'Z'. Written like
    this, and not as one or two digits as in bank account numbers, a letter in place of a digit shifts nothing else: a
    wrong character adds (a - b) 3^i, a swap (a - b)(3^i - 3^j) mod 97, neither of which is 0, because |a - b| < 97 and
    3 has order 48 mod 97.

    References
    ----------
    ISO/IEC 7064:2003, Information technology, security techniques, check character systems: MOD 97-10

    Examples
    --------
    >>> check_digits("TT0001")
    '37'
    """
    remainder = 0
    for sign in text:
        remainder = (100 * remainder + _SIGNS.index(sign)) % 97
    return f"{98 - 100 * remainder % 97:02d}"


@dataclass(frozen=True)
class ReadLabel:
    """What a label said: the kind, and the code without the characters that labels leave out."""

    kind: Labelled
    plain: str

    def names(self, label: Label) -> bool:
        """Whether it was read from this label."""
        return label.kind is self.kind and plain(label.code) == self.plain


def read_label(text: str) -> ReadLabel:
    """The label that was scanned or typed.

    Raises
    ------
    InputError    nothing was read, it is not a label, or its check digits do not agree
    """
    signs = plain(text[:LONGEST_SCANNED])
    if not signs:
        raise InputError.of(CODE, "nothing was read", "scan the label again, or type what is printed below its square")
    parts = _WHOLE.fullmatch(signs)
    if parts is None:
        raise InputError.of(CODE, phrase("{text} is not a complete label", text=shown(text)), _SHAPE)
    kind, code, check = parts.groups()
    if check != check_digits(kind + code):
        what = phrase("{text} was read, but its check digits do not match", text=shown(text))
        remedy = "one character is wrong, or two are swapped: scan it again, or type what is printed below its square"
        raise InputError.of(CODE, what, remedy)
    return ReadLabel(next(each for each in Labelled if each.value == kind), code)


def one_slip_away(text: str, labels: Iterable[Label]) -> list[Label]:
    """The labels from which `text` differs by one wrong character or by two swapped ones."""
    signs = plain(text[:LONGEST_SCANNED])
    return [label for label in labels if _is_one_slip(signs, label.scanned)]


def _is_one_slip(one: str, other: str) -> bool:
    if len(one) != len(other):
        return False
    at = [place for place, (mine, yours) in enumerate(zip(one, other, strict=True)) if mine != yours]
    swapped = len(at) == 2 and one[at[0]] == other[at[1]] and one[at[1]] == other[at[0]]
    return len(at) == 1 or swapped
