"""What is new in each version, from `changes.md`: headings and list items."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

from markupsafe import Markup, escape

import shopfloor

_FILE = Path(shopfloor.__file__).parent / "changes.md"
_MARKS = (("### ", "h3"), ("## ", "h2"), ("- ", "li"))
_COMMAND, _LABEL = re.compile("`([^`]+)`"), re.compile(r"\*([^*]+)\*")


@cache
def news() -> tuple[tuple[str, str], ...]:
    """The file's blocks as (kind, text), newest version first: h2 a version and its day, h3 a kind of change, li one.

    An indented line continues the one before.
    """
    blocks: list[tuple[str, str]] = []
    for line in _FILE.read_text(encoding="utf-8").splitlines():
        found = next(((kind, line[len(mark) :]) for mark, kind in _MARKS if line.startswith(mark)), None)
        if found:
            blocks.append(found)
        elif line.startswith(" "):
            kind, text = blocks.pop()
            blocks.append((kind, f"{text} {line.strip()}"))
    return tuple(blocks)


def marked(text: str) -> Markup:
    """A text of the file with its `commands` and *labels* set off."""
    plain = str(escape(text))
    return Markup(_LABEL.sub(r"<em>\1</em>", _COMMAND.sub(r"<code>\1</code>", plain)))  # noqa: S704 - escaped
