"""What a page says and holds, without its markup."""

from __future__ import annotations

import re
from html import unescape

from werkzeug.test import TestResponse


def words(answer: TestResponse) -> str:
    """What a page says, without its markup."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def typed(answer: TestResponse, name: str) -> str:
    """The value of a field on the page."""
    found = re.search(rf'<input [^>]*name="{name}"[^>]*>', answer.text)
    value = re.search(r'value="([^"]*)"', found[0]) if found else None
    return unescape(value[1]) if value else ""
