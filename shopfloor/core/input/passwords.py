"""PINs and passwords: which may be chosen, and how long to wait after wrong ones.

PINs are shorter than OWASP asks for: they are good on enrolled tablets only, with waits, and give an operator's rights.
"""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

from shopfloor.core.errors import Problem
from shopfloor.core.phrases import phrase

SHORTEST_PIN, LONGEST_PIN = 4, 8
SHORTEST_PASSWORD, LONGEST_PASSWORD = 8, 128

FREE_ATTEMPTS = 4
"""Wrong attempts in a row without a wait. Common practice, no source."""

_WAITS_S = (30, 60, 120, 300)
"""The waits after the fifth wrong attempt and each further one; the last one stays. Common practice, no source."""

STRANGERS_COUNT = timedelta(hours=1)
_STRANGERS_WAIT = {40: timedelta(minutes=1), 80: timedelta(minutes=5), 160: timedelta(minutes=15)}
"""Wrong attempts on one name from network addresses, and how long a new address waits beyond them. Our own choice."""

LONGEST_WAIT = timedelta(seconds=_WAITS_S[-1])
"""Older wrong attempts make nobody wait at their place."""

_LIKE_ONE_ANOTHER = 3
"""Minimum number of different characters in a password; '11111111' is no secret."""


def problems_of_pin(pin: str, shortest: int) -> list[Problem]:
    """What is wrong with a chosen PIN.

    Parameters
    ----------
    pin : str         as typed
    shortest : int    minimum number of digits in this shop

    Returns
    -------
    list of Problem, empty where it may be used
    """
    if not (pin.isascii() and pin.isdecimal() and shortest <= len(pin) <= LONGEST_PIN):
        return [
            Problem(
                "secret",
                "it is not a valid PIN for this shop",
                phrase("use {shortest} to {longest_pin} digits", shortest=shortest, longest_pin=LONGEST_PIN),
            )
        ]
    if len(set(pin)) == 1 or _is_a_row(pin):
        what = "it is among the first that anybody would try"
        return [Problem("secret", what, "use digits that are neither all alike nor in a row")]
    return []


def problems_of_password(password: str, names: tuple[str, ...]) -> list[Problem]:
    """What is wrong with a password chosen by somebody of these names.

    References
    ----------
    OWASP, Application Security Verification Standard 5.0, 6.2.1 (at least 8 characters) and 6.2.9 (long ones allowed)
    """
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        what = phrase("it has {value} characters", value=len(password))
        return [
            Problem(
                "secret",
                what,
                phrase(
                    "use {shortest_password} to {longest_password}; digits alone will do",
                    shortest_password=SHORTEST_PASSWORD,
                    longest_password=LONGEST_PASSWORD,
                ),
            )
        ]
    plain = password.casefold()
    is_weak = len(set(plain)) < _LIKE_ONE_ANOTHER or _is_a_row(plain) or "password" in plain
    if is_weak or any(name and name.casefold() in plain for name in names):
        return [Problem("secret", "it is among the first that anybody would try", "choose one that nobody can guess")]
    return []


def wait_after(wrong: int) -> timedelta:
    """How long to wait after this many wrong attempts in a row; nothing after the first four."""
    if wrong <= FREE_ATTEMPTS:
        return timedelta(0)
    return timedelta(seconds=_WAITS_S[min(wrong - FREE_ATTEMPTS, len(_WAITS_S)) - 1])


def wait_of_a_stranger(wrong: int) -> timedelta:
    """How long a place where somebody never logged in waits after many wrong attempts on that name elsewhere.

    Parameters
    ----------
    wrong : int    wrong attempts within `STRANGERS_COUNT`, over all network addresses together

    Notes
    -----
    One address alone reaches 19 within an hour, two reach 38: only a distributed attempt makes anybody wait here. The
    wait is served once and never grows by asking, so nobody is locked out for good.
    """
    most = max((limit for limit in _STRANGERS_WAIT if wrong > limit), default=None)
    return timedelta(0) if most is None else _STRANGERS_WAIT[most]


def _is_a_row(text: str) -> bool:
    """Whether each character follows the one before, up or down, as 1234 or 9876."""
    steps = {ord(b) - ord(a) for a, b in pairwise(text)}
    return steps in ({1}, {-1})
