"""Looks over every page that a test fetches: what no page may lack, whatever it is about."""

from __future__ import annotations

import re
from collections import Counter
from html.parser import HTMLParser
from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
TYPED_INTO = {"input", "select", "textarea"}
POINTING = ("for", "aria-describedby", "aria-labelledby", "data-chart", "data-for", "data-fill", "data-empties")


class Outline(HTMLParser):
    """A page as its tags, each with its attributes and the tags around it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str], tuple[str, ...]]] = []
        self.texts: Counter[str] = Counter()
        self.faults: list[str] = []
        self._open: list[str] = []
        self.feed(page)
        self.close()
        if self._open:
            self.faults.append(f"never closed: {self._open}")

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag, and that it is open."""
        self.tags.append((tag, {name: value or "" for name, value in attrs}, tuple(self._open)))
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag without content, as drawings have them."""
        self.tags.append((tag, {name: value or "" for name, value in attrs}, tuple(self._open)))

    def handle_endtag(self, tag: str) -> None:
        """The tag that was opened last must be the one that ends."""
        if not self._open or self._open.pop() != tag:
            self.faults.append(f"</{tag}> ends what is not open")

    def handle_data(self, text: str) -> None:
        """Count the characters of titles and headings."""
        for tag in {"title", "h1", "button", "a", "label", "legend"} & set(self._open):
            self.texts[tag] += len(text.strip())

    def named(self, *names: str) -> list[dict[str, str]]:
        """The attributes of each tag of these names."""
        return [attributes for tag, attributes, _ in self.tags if tag in names]


def faults(page: str) -> list[str]:
    """What is wrong with a page; nothing where all is well."""
    seen = Outline(page)
    return [*seen.faults, *_heading(seen), *_ids(seen), *_inputs(seen), *_forms(seen), *_inline(seen), *_charts(seen)]


def _heading(seen: Outline) -> list[str]:
    found = {name: len(seen.named(name)) for name in ("title", "h1", "main")}
    wrong = [f"{number} times <{name}>" for name, number in found.items() if number != 1]
    wrong += [f"empty <{name}>" for name in ("title", "h1") if not seen.texts[name]]
    return wrong + ([] if seen.named("html")[0].get("lang") else ["the page's language is not said"])


def _ids(seen: Outline) -> list[str]:
    ids = Counter(attributes["id"] for _, attributes, _ in seen.tags if "id" in attributes)
    wrong = [f"id '{one}' stands {number} times" for one, number in ids.items() if number > 1]
    pointed = {one for _, attributes, _ in seen.tags for name in POINTING for one in attributes.get(name, "").split()}
    links = {a["href"][1:] for a in seen.named("a") if re.fullmatch(r"#.+", a.get("href", ""))}
    return wrong + [f"nothing has the id '{one}'" for one in sorted((pointed | links) - set(ids))]


def _inputs(seen: Outline) -> list[str]:
    labelled = {attributes.get("for") for attributes in seen.named("label")}
    return [
        f"no label: {tag} {attributes}"
        for tag, attributes, around in seen.tags
        if tag in TYPED_INTO and attributes.get("type") != "hidden"
        if attributes.get("id") not in labelled and "label" not in around and "aria-label" not in attributes
    ] + [f"no alt: {attributes}" for attributes in seen.named("img") if "alt" not in attributes]


def _forms(seen: Outline) -> list[str]:
    return [
        f"no {name} in form {form}"
        for form in seen.named("form")
        for name in ("method", "action")
        if not form.get(name)
    ]


def _inline(seen: Outline) -> list[str]:
    wrong = [f"inline {tag}" for tag, _, _ in seen.tags if tag == "style"]
    for tag, attributes, _ in seen.tags:
        wrong += [f"inline {name} in {tag}" for name in attributes if name == "style" or name.startswith("on")]
    scripts = seen.named("script")
    return wrong + [
        "inline script" for script in scripts if "src" not in script and script.get("type") != "application/json"
    ]


def _charts(seen: Outline) -> list[str]:
    charts = [attributes for _, attributes, _ in seen.tags if "data-chart" in attributes]
    wrong = [f"no words for the chart {chart}" for chart in charts if not chart.get("aria-label")]
    return wrong + (["no table beside the chart"] if charts and not seen.named("table") else [])


class InspectingClient(FlaskClient):
    """A client that fails for a page that lacks what every page must have."""

    def open(self, *args: Any, **keywords: Any) -> TestResponse:
        """Fetch, and look over what came if it is a page."""
        answer = super().open(*args, **keywords)
        if answer.mimetype == "text/html" and not 300 <= answer.status_code < 400:
            assert [] == faults(answer.text), answer.request.path
        return answer
