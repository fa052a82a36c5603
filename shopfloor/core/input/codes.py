"""Codes of people, stations, materials, jobs, tap types and taps: how they are written, and when two are the same.

People read codes, so two that look alike on a label or a tile must not stand for two things. Codes are compared by
`code_key`, which is stored under a unique index.
"""

from __future__ import annotations

import re
import unicodedata

from shopfloor.core.input.reader import Reader, shown
from shopfloor.core.phrases import phrase

LONGEST_KEY = 512
"""Maximum length of a key: some characters stand for a whole phrase and become one."""

_UNSEEN_KINDS = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})
_UNSEEN = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)
"""Letters and marks without a visible shape: fillers, joiners, variation selectors, the empty Braille cell."""
_ALIKE = frozenset({"LATIN", "GREEK", "CYRILLIC", "COPTIC", "ARMENIAN", "CHEROKEE"})
"""Scripts whose letters can be mistaken for one another's."""
_UNITS = frozenset("\u00b5\u2126")
"""The micro and ohm signs: among Latin letters they do not count as Greek."""


def code_key(code: str) -> str:
    r"""The key that codes share which people would take for the same code.

    Parameters
    ----------
    code : str    as typed, scanned or stored

    Returns
    -------
    str           normalised (NFKC), lower case, single blanks between words, nothing invisible

    Notes
    -----
    Both steps are done twice: folding can leave characters to compose, and composing characters to fold.

    References
    ----------
    Unicode Standard Annex 15, Unicode Normalization Forms; Unicode Standard 3.13, Default Caseless Matching

    Examples
    --------
    >>> code_key("  ARM\u200b-1 ")
    'arm-1'
    """
    if code.isascii() and code.isprintable():
        return " ".join(code.lower().split())
    seen = "".join(sign for sign in code if sign.isspace() or not _is_unseen(sign))
    for _ in range(2):
        seen = unicodedata.normalize("NFKC", seen).casefold()
    return " ".join(seen.split())[:LONGEST_KEY].strip()


def read_code(reader: Reader, field: str, *, longest: int, required: bool = False) -> str | None:
    """A code for something new: normalised, with single blanks between words; what could mislead is refused.

    Parameters
    ----------
    reader      of the raw record; takes the problem
    field       name of the field
    longest     maximum number of characters
    required    whether an empty field is a problem

    Returns
    -------
    str or None    None where nothing usable was typed
    """
    typed = reader.text(field, longest=longest, required=required)
    if typed is None:
        return None
    code = written_code(typed)
    wrong = wrong_with(code)
    if wrong is not None:
        reader.problem(field, *wrong)
        return None
    return code


def written_code(typed: str) -> str:
    """A code as it is stored: composed (NFC), with single blanks between words."""
    return " ".join(unicodedata.normalize("NFC", typed).split())


def wrong_with(code: str) -> tuple[str, str] | None:
    """What is wrong with a new code and what would be right; None where it is good."""
    unseen = next((sign for sign in code if _is_unseen(sign)), None)
    if unseen is not None:
        what = phrase("{code} contains an invisible character", code=shown(_without_unseen(code)))
        return what, phrase("type it again without the character {number}", number=f"U+{ord(unseen):04X}")
    if not any(unicodedata.category(sign)[0] in "LN" for sign in code):
        return phrase("{code} is not a code", code=shown(code)), phrase("use at least one letter or digit")
    mixed = next((word for word in re.findall(r"\w+", code) if len(_scripts(word)) > 1), None)
    if mixed is not None:
        what = phrase("{word} mixes letters that only look alike: {scripts}", word=shown(mixed), scripts=_told(mixed))
        return what, phrase("type the whole word on one keyboard")
    return None


def _is_unseen(sign: str) -> bool:
    return unicodedata.category(sign) in _UNSEEN_KINDS or _UNSEEN.match(sign) is not None


def _without_unseen(code: str) -> str:
    return "".join("?" if _is_unseen(sign) else sign for sign in code)


def _scripts(word: str) -> set[str]:
    """The scripts of a word's letters, among those that can be mistaken for one another."""
    letters = unicodedata.normalize("NFKC", "".join(sign for sign in word if sign not in _UNITS))
    return {unicodedata.name(sign, "").split(" ")[0] for sign in letters if sign.isalpha()} & _ALIKE


def _told(word: str) -> str:
    return ", ".join(sorted(script.capitalize() for script in _scripts(word)))
