"""Codes of people, stations, materials, jobs, tap types and taps: how one is written, and when two are the same.

People read codes; two that look alike on a label or a tile must not be two things.
"""

from __future__ import annotations

import re
import unicodedata

from shopfloor.core.input.reader import Reader, shown
from shopfloor.core.phrases import phrase

LONGEST_KEY = 512
"""Characters of a key at most: some signs stand for a whole phrase and become one."""

_UNSEEN_KINDS = frozenset({"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"})
_UNSEEN = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)
"""Letters and marks that are drawn as nothing: fillers, joiners, variation selectors, the empty Braille cell."""
_ALIKE = frozenset({"LATIN", "GREEK", "CYRILLIC", "COPTIC", "ARMENIAN", "CHEROKEE"})
"""Scripts whose letters can be taken for one another's."""
_UNITS = frozenset("\u00b5\u2126")
"""The signs for micro and ohm: among Latin letters they are no Greek ones."""


def code_key(code: str) -> str:
    """What two codes have in common that people take for the same one.

    Parameters
    ----------
    code : str    as it was typed, scanned or stored

    Returns
    -------
    str           composed alike (NFKC), small letters, one blank between words, nothing that cannot be seen

    Notes
    -----
    Both steps are done twice: folding can leave what composes anew, and composing what folds.

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
    """A code that is to be given to something: composed, one blank between words; what could mislead is refused."""
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
    """A code as it is stored: composed (NFC), with one blank between words."""
    return " ".join(unicodedata.normalize("NFC", typed).split())


def wrong_with(code: str) -> tuple[str, str] | None:
    """What is wrong with a new code, and what would be right; None where nothing is."""
    unseen = next((sign for sign in code if _is_unseen(sign)), None)
    if unseen is not None:
        what = phrase("{code} holds a character that cannot be seen", code=shown(_without_unseen(code)))
        return what, phrase("type it anew, without what has the number {number}", number=f"U+{ord(unseen):04X}")
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
    """The scripts of a word's letters, of those that can be taken for one another."""
    letters = unicodedata.normalize("NFKC", "".join(sign for sign in word if sign not in _UNITS))
    return {unicodedata.name(sign, "").split(" ")[0] for sign in letters if sign.isalpha()} & _ALIKE


def _told(word: str) -> str:
    return ", ".join(sorted(script.capitalize() for script in _scripts(word)))
