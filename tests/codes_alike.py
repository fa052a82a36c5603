"""Codes that server and tablet must take for one, and codes that they must tell apart."""

from __future__ import annotations

ALIKE = [
    ("T0012", "t0012"),
    ("T0012", "  T0012 "),
    ("arm 1", "Arm   1"),
    ("T0012", "T\u200b0012"),
    ("T0012", "\uff340012"),
    ("Böchüm", "bo\u0308chu\u0308m"),
    ("ﬁt", "FIT"),
    ("caf\u00e9", "cafe\u0301"),
    ("\uff21\uff24\uff21", "ada"),
    ("a\u200bda", "ada"),
    ("\u202eada", "ADA"),
    ("\u00c4rm", "\u00e4rm"),
    ("M8  spiral   point Delta", "M8 spiral point delta"),
    ("stra\u00dfe", "STRASSE"),
    ("M8\u00a0SP", "m8 sp"),
    ("\u017fpindel", "SPINDEL"),
]
APART = [
    ("T-1", "T1"),
    ("T 1", "T1"),
    ("T0012", "T00l2"),
    ("T0012", "TO012"),
    ("Böchüm", "Bochum"),
    ("A1", "A2"),
    ("M8 SP", "M8SP"),
    ("1/2-13", "12-13"),
    ("T1", ""),
]
