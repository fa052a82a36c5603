"""A language that does not exist: each text of ours stands between marks, so that what no catalogue knows has none."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from functools import cache
from gettext import NullTranslations
from html.parser import HTMLParser

from sqlalchemy import Connection, Enum, String, select

from shopfloor.store.base import Base
from shopfloor.web.i18n.language import Catalogue
from tests.house import catalogue

OPEN, CLOSE = "⟦", "⟧"
_VALUE = re.compile(r"(%\(\w+\)s|%%|\{\w+\}|<[^>]+>|[`*])")
"""Places for values, tags, and the marks that become tags."""

_MARKED = re.compile(rf"{OPEN}[^{OPEN}{CLOSE}]*{CLOSE}")
_WORD = re.compile(r"[^\W\d_]{3,}")
_READ_OUT = ("title", "aria-label", "placeholder", "alt", "data-label", "data-failed")
_UNSEEN = ("script", "code", "style")
_CODES_OF_FIGURES = re.compile(r"#[0-9a-f]{6}|rgba?\(.*\)|%\{|[a-z]+(-[a-z]+)*|.*<extra>.*|d3|x|y")
SAME_EVERYWHERE = {"shopfloor", "rpm", "min", "JSON", "English", "Español", "GO", "NO"}
"""Names, and units that every language writes alike."""


class Marking(NullTranslations):
    """Marks every text that the catalogues hold; any other stays as it is."""

    def gettext(self, message: str) -> str:
        """The text between marks, but for its values."""
        return marked(message) if message in texts() else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The text that counts."""
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        """The text whose English says too little by itself."""
        return self.gettext(message)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        """Both."""
        return self.ngettext(msgid1, msgid2, n)


def marked(text: str) -> str:
    """The text with marks around what is ours in it."""
    return "".join(
        part if not part.strip() or _VALUE.fullmatch(part) else f"{OPEN}{part}{CLOSE}" for part in _VALUE.split(text)
    )


@cache
def texts() -> frozenset[str]:
    """Every text of the catalogues."""
    return frozenset(
        text
        for message in catalogue.template()
        if message.id
        for text in ([message.id] if isinstance(message.id, str) else message.id)
    )


def marking(code: str) -> Catalogue:
    """In place of `language.catalogue`."""
    return Catalogue(Marking(), {})


class _Reader(HTMLParser):
    """What a page shows or reads out, and the figures that a script draws on it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.figures: list[str] = []
        self._open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Attributes that people are told."""
        self._open.append(tag)
        self.found += [value or "" for name, value in attrs if name in _READ_OUT]

    def handle_endtag(self, tag: str) -> None:
        """The tag ends, and those in it that need no end."""
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        """Text between tags."""
        if "script" in self._open and data.lstrip().startswith("{"):
            self.figures.append(data)
        elif not {*_UNSEEN} & {*self._open}:
            self.found.append(data)


def unmarked(page: str, own: Iterable[str]) -> list[str]:
    """The texts of a page with a word that bears no mark and is not the shop's `own`."""
    read = _Reader(page)
    found = [text for text in read.found if _is_bare(text, own)]
    return found + [text for figure in read.figures for text in _told(json.loads(figure)) if _is_bare(text, own)]


def _told(figure: object) -> Iterator[str]:
    """The texts of a figure that are no names of its own language."""
    if isinstance(figure, str):
        if not _CODES_OF_FIGURES.fullmatch(figure):
            yield figure
    elif isinstance(figure, dict):
        for name, value in figure.items():
            yield from () if name in ("family", "night") else _told(value)
    elif isinstance(figure, list):
        for value in figure:
            yield from _told(value)


def _is_bare(text: str, own: Iterable[str]) -> bool:
    while text != (less := _MARKED.sub(" ", text)):
        text = less
    for one in own:
        text = text.replace(one, " ")
    return bool(set(_WORD.findall(text)) - SAME_EVERYWHERE)


def texts_of_the_shop(connection: Connection) -> list[str]:
    """What people wrote into the record, the longest first; no words of the trade, no reasons and no notes."""
    found: set[str] = set()
    for table in Base.metadata.sorted_tables:
        for column in table.columns:
            is_text = isinstance(column.type, String) and not isinstance(column.type, Enum)
            if is_text and column.name not in ("reason", "note"):
                found |= {str(value) for value in connection.execute(select(column).distinct()).scalars() if value}
    return sorted(found, key=len, reverse=True)
