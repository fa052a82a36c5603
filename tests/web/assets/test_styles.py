"""The looks of the pages: one component for one thing, each rule stated once."""

from __future__ import annotations

import re
from collections import defaultdict

from shopfloor.web.assets.bundles import STATIC

COMMENT = re.compile(r"/\*.*?\*/", re.S)
AT_RULE = re.compile(r"@[^{}]*\{(?:[^{}]*\{[^{}]*\})*[^{}]*\}")
RULE = re.compile(r"([^{}]+)\{[^{}]*\}")


def selectors(sheet: str) -> set[str]:
    """What a sheet states rules for, whatever a screen's size or paper changes in them."""
    plain = AT_RULE.sub("", COMMENT.sub("", sheet))
    return {one.strip() for group in RULE.findall(plain) for one in group.split(",")}


def test_no_two_sheets_state_rules_for_the_same_thing() -> None:
    """A name means the same on every page."""
    stated: defaultdict[str, list[str]] = defaultdict(list)
    for path in sorted(STATIC.rglob("*.css")):
        for selector in selectors(path.read_text(encoding="utf-8")):
            stated[selector].append(path.name)
    assert {} == {selector: names for selector, names in stated.items() if len(names) > 1}
    assert ["components.css"] == stated[".tabs a"]
