"""Every text of the pages has its translation, and no page says anything that no catalogue knows."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from babel.messages.catalog import Message
from babel.messages.jslexer import Token, tokenize
from jinja2 import Environment, nodes

from shopfloor.settings import LANGUAGES
from tests.house import catalogue

TEMPLATES = catalogue.PACKAGE / "web" / "templates"
SPEAKING = ("title", "aria-label", "placeholder", "alt")
TRANSLATING = {"_", "gettext", "ngettext", "pgettext", "npgettext"}
MARK = re.compile(r"%\((\w+)\)s|\{(\w+)\}")
TAG = re.compile(r"<[^>]+>")
WORD = re.compile(r"[A-Za-z]{2,}")
SENTENCE = re.compile(r"^[A-Z][a-z]*( |$)|[a-z]+ [a-z]+ [a-z]+")
SAID_BY_A_SCRIPT = re.compile(r"\b[A-Z][a-z]* [a-z]|[a-z]+ [a-z]+ [a-z]+|[a-z]: \$|[A-Za-z] (?:for|of) ")
UNSEEN_CALLS = {"say", "sayCount", "querySelector", "fact", "keepFact", "Error", "DOMException"}
"""Calls whose texts are translated, or that nobody reads: addresses in a page, names of facts, errors of a log."""

NAMES = {"shopfloor", "rpm", "mm", "operator", "crib", "quality", "who", "access"}
"""Words that are the same in every language, and the names of styles."""

SCRIPTS = sorted((catalogue.PACKAGE / "web" / "static" / "js").rglob("*.js"))


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


def bare_sentences(path: Path) -> Iterator[str]:
    """The sentences of a script that are not handed to what translates them."""
    tokens = [token for token in tokenize(path.read_text(encoding="utf-8")) if not token.type.endswith("comment")]
    for place, token in enumerate(tokens):
        is_text = token.type in ("string", "template_string") and SAID_BY_A_SCRIPT.search(own_words(token.value))
        is_style = any(one.value.endswith(("class", "className")) for one in tokens[place - 2 : place])
        if is_text and not is_style and called(tokens, place) not in UNSEEN_CALLS:
            yield f"{path.name}:{token.lineno}: {token.value}"


def own_words(text: str) -> str:
    """A text of a script without its quotes, and with $ for what is put into it."""
    text, before = text[1:-1], ""
    while text != before:
        text, before = re.sub(r"\$?\{[^{}]*\}", "$", text), text
    return text


def called(tokens: list[Token], place: int) -> str:
    """The function among whose arguments a token stands, else the bracket around it."""
    depth = 0
    for back in range(place - 1, -1, -1):
        value = tokens[back].value
        if value in (")", "]", "}"):
            depth += 1
        elif value in ("(", "[", "{"):
            if not depth:
                return tokens[back - 1].value.split(".")[-1] if value == "(" else value
            depth -= 1
    return ""


def test_every_language_has_a_catalogue() -> None:
    """English is in the source; each other language in a file."""
    assert {*LANGUAGES} - {"en"} == {*catalogue.catalogues()}


@pytest.mark.parametrize("code", [*catalogue.catalogues()])
def test_a_catalogue_holds_what_the_source_says_and_no_more(code: str) -> None:
    """tests/house/catalogue.py was run after the last change of a text."""
    said = {(message.context, message.id) for message in catalogue.template() if message.id}
    assert said == {(message.context, message.id) for message in catalogue.catalogues()[code] if message.id}


@pytest.mark.parametrize("code", [*catalogue.catalogues()])
def test_every_text_is_translated_with_the_same_values_in_it(code: str) -> None:
    """No translation is missing, none is a guess, and each has the places and tags of its English."""
    messages = [message for message in catalogue.catalogues()[code] if message.id]
    assert [] == [f"{fault}: {message.id}" for message in messages for fault in faults(message)]


def faults(message: Message) -> Iterator[str]:
    """What is wrong with the translation of a text."""
    english, told = catalogue.each(message.id)[-1], catalogue.strings(message)
    if not all(told):
        yield "not translated"
    if message.fuzzy:
        yield "a guess"
    if set(MARK.findall(english)) != set(MARK.findall(told[-1])):
        yield "other values"
    if TAG.findall(english) != TAG.findall(told[-1]):
        yield "other tags"


@pytest.mark.parametrize(
    ("text", "translation", "found"),
    [
        ("{n} holes", "{n} agujeros", []),
        ("{n} holes", "", ["not translated", "other values"]),
        ("{n} holes", "{m} agujeros", ["other values"]),
        ("<b>%(name)s</b>", "<i>%(name)s</i>", ["other tags"]),
        (("%(num)s hole", "%(num)s holes"), ("%(num)s agujero", ""), ["not translated", "other values"]),
    ],
)
def test_a_wrong_translation_is_found(
    text: str | tuple[str, str], translation: str | tuple[str, str], found: list[str]
) -> None:
    """Left out, with other places or tags, or in one number only."""
    assert found == [*faults(Message(text, translation))]


def test_a_guessed_translation_is_found() -> None:
    """Guesses of the tools are marked so."""
    assert ["a guess"] == [*faults(Message("Save", "Guardar", flags=["fuzzy"]))]


def test_no_template_says_a_word_by_itself() -> None:
    """Every word of a page goes through the catalogue."""
    assert len(in_scope()) > 20
    assert [] == [f"{path.relative_to(TEMPLATES)}: {text.strip()}" for path in in_scope() for text in bare_words(path)]


def test_no_script_says_a_sentence_by_itself() -> None:
    """Whatever a script writes onto a page goes through `say` or `sayCount`."""
    assert len(SCRIPTS) > 20
    assert [] == [sentence for path in SCRIPTS for sentence in bare_sentences(path)]


def test_what_is_told_after_a_redirect_is_said() -> None:
    """A flashed text is kept in the session as it is, so it must be in the page's language by then."""
    calls = [
        f"{path.name}:{node.lineno}"
        for path in (catalogue.PACKAGE / "web").rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "flash" and not is_said(node.args[0])
    ]
    assert [] == calls


def is_said(node: ast.expr) -> bool:
    """Whether a text goes through `say`, or each of two does."""
    if isinstance(node, ast.IfExp):
        return is_said(node.body) and is_said(node.orelse)
    return isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say"
