"""Every text of the pages has its translation, and no page says anything that no catalogue knows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel.messages.catalog import Message
from jinja2 import Environment, nodes

from shopfloor.settings import LANGUAGES
from tests.house import catalogue

TEMPLATES = catalogue.PACKAGE / "web" / "templates"
SPEAKING = ("title", "aria-label", "placeholder", "alt")
TRANSLATING = {"_", "gettext", "ngettext", "pgettext", "npgettext"}
MARK = re.compile(r"%\((\w+)\)s|\{(\w+)\}")
WORD = re.compile(r"[A-Za-z]{2,}")
SENTENCE = re.compile(r"^[A-Z][a-z]+( |$)|[a-z]+ [a-z]+ [a-z]+")
NAMES = {"shopfloor", "rpm", "mm", "operator", "crib", "quality", "who", "access"}
"""Words that are the same in every language, and the names of styles."""

MESSAGES = [
    pytest.param(code, message, id=f"{code}-{number}")
    for code, read in catalogue.catalogues().items()
    for number, message in enumerate(read)
    if message.id
]


class Texts(HTMLParser):
    """The words of a template that stand between and in its tags."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self._is_code = False
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Attributes that are read out or shown."""
        self._is_code = tag == "code"
        self.found += [value or "" for name, value in attrs if name in SPEAKING]

    def handle_data(self, text: str) -> None:
        """Text."""
        if not self._is_code:
            self.found.append(text)


def in_scope() -> list[Path]:
    """The templates that must speak every language."""
    return sorted(TEMPLATES.rglob("*.html"))


def bare_words(path: Path) -> Iterator[str]:
    """The words of a template that no catalogue can translate."""
    tree = Environment(extensions=["jinja2.ext.i18n"], autoescape=True).parse(path.read_text(encoding="utf-8"))
    plain = "".join(node.data if isinstance(node, nodes.TemplateData) else "x" for node in pieces(tree))
    yield from (text for text in Texts(plain).found if set(WORD.findall(text.replace("x", " "))) - NAMES)
    yield from (node.value for node in constants(tree) if SENTENCE.search(node.value))


def pieces(node: nodes.Node) -> Iterator[nodes.Node]:
    """What is printed, in order."""
    if isinstance(node, nodes.Output):
        yield from node.nodes
    else:
        for child in node.iter_child_nodes():
            yield from pieces(child)


def constants(node: nodes.Node) -> Iterator[nodes.Const]:
    """The texts within expressions, but for those that are being translated."""
    for child in node.iter_child_nodes():
        if isinstance(child, nodes.Const) and isinstance(child.value, str):
            yield child
        elif not (isinstance(child, nodes.Call) and getattr(child.node, "name", "") in TRANSLATING):
            yield from constants(child)


def test_every_language_has_a_catalogue() -> None:
    """English is in the source; each other language in a file."""
    assert {*LANGUAGES} - {"en"} == {*catalogue.catalogues()}


@pytest.mark.parametrize("code", [*catalogue.catalogues()])
def test_a_catalogue_holds_what_the_source_says_and_no_more(code: str) -> None:
    """tests/house/catalogue.py was run after the last change of a text."""
    said = {(message.context, message.id) for message in catalogue.template() if message.id}
    assert said == {(message.context, message.id) for message in catalogue.catalogues()[code] if message.id}


@pytest.mark.parametrize(("code", "message"), MESSAGES)
def test_every_text_is_translated_with_the_same_values_in_it(code: str, message: Message) -> None:
    """No translation lacks, none is a guess, and each has the places that its English has."""
    assert all(catalogue.strings(message))
    assert not message.fuzzy
    texts = catalogue.each(message.id)
    assert set(MARK.findall(texts[-1])) == set(MARK.findall(catalogue.strings(message)[-1]))
    assert re.findall(r"<[^>]+>", texts[-1]) == re.findall(r"<[^>]+>", catalogue.strings(message)[-1])


@pytest.mark.parametrize("path", in_scope(), ids=lambda path: path.relative_to(TEMPLATES).as_posix())
def test_no_template_says_a_word_by_itself(path: Path) -> None:
    """Every word of a page goes through the catalogue."""
    assert [] == [text.strip() for text in bare_words(path)]
