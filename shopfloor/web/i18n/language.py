"""The language of a page: the tablet's own choice, else the shop's, else the browser's; and its catalogue.

The source is in English. Every other language is a catalogue in `languages`, compiled in memory when it is
first requested.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from gettext import GNUTranslations, NullTranslations
from io import BytesIO
from pathlib import Path
from typing import Any

from babel.localedata import locale_identifiers
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from flask import Flask, Response, current_app, g, has_request_context, request
from markupsafe import Markup
from werkzeug.exceptions import HTTPException

from shopfloor.core.phrases import Measurement, Phrase
from shopfloor.settings import LANGUAGES
from shopfloor.web.context import work
from shopfloor.web.i18n.measures import units
from shopfloor.web.i18n.quantities import in_words

CATALOGUES = Path(__file__).parents[1] / "languages"
"""One folder per language, in gettext's layout."""

COOKIE = "language"
"""Holds this tablet's choice."""

_SOURCE = "en"
_SCRIPTS = ".js"


@dataclass(frozen=True)
class Catalogue:
    """A language's texts, and those among them that scripts need."""

    texts: NullTranslations
    of_scripts: Mapping[str, str | list[str]]


def install(app: Flask) -> None:
    """Let templates say things in the page's language."""
    env = app.jinja_env
    env.add_extension("jinja2.ext.i18n")
    env.policies["ext.i18n.trimmed"] = True
    env.newstyle_gettext = True  # type: ignore[attr-defined]  # set by the extension
    env.globals.update(
        {"_": gettext, "gettext": gettext, "ngettext": ngettext, "pgettext": pgettext, "npgettext": npgettext}
    )
    env.finalize = spoken
    app.after_request(_tell_language)
    app.add_template_filter(say)
    app.add_template_global(language)
    app.add_template_global(locale)
    app.add_template_global(other_languages)
    app.add_template_global(script_words)
    app.add_template_global(here)


def language() -> str:
    """The page's language code, of two letters."""
    if not has_request_context():
        return _SOURCE
    if "language" not in g:
        g.language = _chosen()
    found: str = g.language
    return found


def locale() -> str:
    """The page's language with the shop's country if that locale exists, such as 'es_MX'; else the language alone."""
    region = work().settings.region if has_request_context() else ""
    tag = f"{language()}_{region}"
    return tag if region and tag in _known_locales() else language()


def other_languages() -> dict[str, str]:
    """The other languages, by code, each by its own name."""
    return {code: name for code, name in LANGUAGES.items() if code != language()}


def here() -> str:
    """Where to return after changing the language: this page, or the start page if this one is not a GET."""
    if request.method == "GET":
        return request.full_path.removesuffix("?")
    try:
        current_app.create_url_adapter(request).match(method="GET")  # type: ignore[union-attr]
    except HTTPException:
        return "/"
    return request.path


def say(text: str) -> str:
    """The text in the page's language; a text in no catalogue stays as it is."""
    if not isinstance(text, Phrase):
        return _texts().gettext(text) if text else text
    told = _pattern(text)
    if text.values:
        told = told.format(**{name: _said(value) for name, value in text.values.items()})
    return told.lower() if text.is_small else told


def spoken(value: Any) -> Any:
    """A value for printing: a phrase in the page's language, anything else as it is."""
    if isinstance(value, Measurement):
        return in_words(value, locale(), units())
    return say(value) if isinstance(value, Phrase) else value


def script_words() -> Mapping[str, str | list[str]]:
    """The scripts' texts by their English; empty for English itself."""
    return catalogue(language()).of_scripts


def gettext(text: str, /, **values: Any) -> Markup:
    """A text of a template, with %(names)s for values."""
    return _filled(_texts().gettext(text), values)


def ngettext(one: str, many: str, number: float, /, **values: Any) -> Markup:
    """A text with a count."""
    return _filled(_texts().ngettext(one, many, _whole(number)), {"num": number, **values})


def pgettext(context: str, text: str, /, **values: Any) -> Markup:
    """A text whose English is ambiguous without context."""
    return _filled(_texts().pgettext(context, text), values)


def npgettext(context: str, one: str, many: str, number: float, /, **values: Any) -> Markup:
    """A text with a count whose English is ambiguous without context."""
    return _filled(_texts().npgettext(context, one, many, _whole(number)), {"num": number, **values})


@cache
def catalogue(code: str) -> Catalogue:
    """The texts of a language."""
    path = CATALOGUES / code / "LC_MESSAGES" / "shopfloor.po"
    if not path.exists():
        return Catalogue(NullTranslations(), {})
    with path.open("rb") as file:
        read = read_po(file, locale=code)
    compiled = BytesIO()
    write_mo(compiled, read)
    compiled.seek(0)
    return Catalogue(GNUTranslations(compiled), _of_scripts(read))


@cache
def _known_locales() -> frozenset[str]:
    return frozenset(locale_identifiers())


def _of_scripts(read: Any) -> dict[str, str | list[str]]:
    found: dict[str, str | list[str]] = {}
    for message in read:
        if message.id and any(file.endswith(_SCRIPTS) for file, _ in message.locations):
            key = message.id if isinstance(message.id, str) else message.id[0]
            found[key] = message.string if isinstance(message.string, str) else list(message.string)
    return found


def _tell_language(response: Response) -> Response:
    """Declare a page's language; the tablet keeps pages by it."""
    if response.mimetype == "text/html":
        response.headers["Content-Language"] = language()
    return response


def _chosen() -> str:
    wanted = request.cookies.get(COOKIE, "")
    if wanted in LANGUAGES:
        return wanted
    return work().settings.language or request.accept_languages.best_match(list(LANGUAGES), _SOURCE)


def _texts() -> NullTranslations:
    return catalogue(language()).texts


def _pattern(text: Phrase) -> str:
    if text.plural is not None:
        return _texts().ngettext(text.pattern, text.plural, _whole(text.number))
    return _texts().gettext(text.pattern) if text.pattern else text.pattern


def _whole(number: float) -> int:
    """The number that selects the plural: only exactly one is singular."""
    return int(number) if number == int(number) else 2


def _said(value: object) -> str:
    return say(value) if isinstance(value, Phrase) else in_words(value, locale(), units())


def _filled(text: str, values: Mapping[str, Any]) -> Markup:
    """A template's text with its values, escaped and in the page's notation."""
    return Markup(text) % {name: _shown(value) for name, value in values.items()}  # noqa: S704  (our own catalogue)


def _shown(value: Any) -> Any:
    return value if isinstance(value, Markup) else _said(value)
