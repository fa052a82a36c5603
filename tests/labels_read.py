"""Texts that are scanned or typed as labels, and what both the server and the tablet read in them."""

from __future__ import annotations

PLAIN = {
    "T0001": "T0001",
    "arm-1": "ARM1",
    "  t 00/01 ": "T0001",
    "Böchüm": "BOCHUM",
    "Straße": "STRASSE",
    "\uff34\uff11": "T1",
    "①": "1",
    "ﬁ": "FI",
    "Ω": "",
    "-": "",
}
"""A code, and what a label holds of it; two codes with the same are the same for a scanner."""

CHECKS = {"TT0001": "37", "TT01": "67", "JJ1002": "70", "SARM1": "90"}
"""A kind's letter with a plain code, and its two check digits."""

READ: dict[str, tuple[str, str] | str] = {
    "T-T0001-37": ("T", "T0001"),
    "TT000137": ("T", "T0001"),
    "tt000137": ("T", "T0001"),
    "  T T0001 37 ": ("T", "T0001"),
    "TT000138": "check",
    "TT001037": "check",
    "XT000137": "no label",
    "T37": "no label",
    "TT0001": "check",
    "": "nothing",
    " - ": "nothing",
    "Ω": "nothing",
    "T" + "0" * 64 + "00": "check",
    "T" + "0" * 65 + "00": "no label",
}
"""A text, and the kind with the plain code that it names, or what is wrong with it."""

THINGS = [("T", "T0001"), ("T", "T0010"), ("J", "J-1002"), ("S", "arm-1")]
SLIPS: dict[str, list[str]] = {
    "TT000137": [],
    "TT000138": ["T0001"],
    "TT001037": ["T0001", "T0010"],
    "TT000173": ["T0001"],
    "TT00013": [],
    "XT000137": ["T0001"],
    "XX000137": [],
}
"""A text, and the codes of the things whose label differs from it in one character or by two that are swapped."""
