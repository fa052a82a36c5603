"""Style sheets and script modules bundled when served, so that a slow tablet makes one request instead of forty.

The sources stay plain sheets and native modules. What is served is a classic script in strict mode: it runs in
the head of the page, while the rest of the page is still arriving. Only the module syntax we use is supported: named
imports from relative addresses, each import on one line or several; exported functions and constants.

The script is no module on purpose. A module runs once the page is parsed, and an async one lets the page end before its
sheet is there: Chromium then lays it out twice, as its form filling looks at every field when parsing ends. So modules
touch no element while they load, translations stand before the script, and the database is opened first, which takes
Chromium 80 to 250 ms on a slow tablet.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

STATIC = (Path(__file__).parents[1] / "static").resolve()
"""The folder of style sheets, scripts and pictures."""

_SHEETS = ("css/tokens.css", "css/base.css", "css/components.css")
BUNDLES = {
    "bundles/page.css": _SHEETS,
    "bundles/page.js": ("js/page.js",),
    "bundles/operator.css": (*_SHEETS, "css/operator.css"),
    "bundles/operator.js": ("js/open_database.js", "js/page.js", "js/operator.js"),
}
"""The parts of each bundle; the operator's contain everything in the other pages'."""

_IMPORT = re.compile(r'^import (?:\{([^}]*)\} from )?"([^"]+)";\n', re.M)
_EXPORT = re.compile(r"^export (?=(?:async )?function (\w+)|const (\w+))", re.M)
_REMARK = re.compile(r"^ *//[^\n]*\n|^ */\*.*?\*/\n", re.M | re.S)
"""Comments on lines of their own: for readers of the source, not for the tablet."""

_INDENT = re.compile(r"^ +", re.M)
"""For readers as well; no text of ours goes over several lines."""

_OTHER = re.compile(r"^(?:import|export)\b.*", re.M)


@cache
def bundled(name: str) -> bytes:
    """The text of a bundle, built once: its parts never change while the server runs.

    Raises
    ------
    KeyError      no such bundle
    ValueError    unsupported module syntax, or a circular import
    """
    parts = [STATIC / part for part in BUNDLES[name]]
    if name.endswith(".css"):
        return _REMARK.sub("", "\n".join(part.read_text(encoding="utf-8") for part in parts)).encode()
    order = list(dict.fromkeys(module for part in parts for module in _in_order(part, ())))
    numbers = {path: number for number, path in enumerate(order)}
    return "\n".join(['"use strict";', *(_scope(path, numbers) for path in order)]).encode()


def _in_order(path: Path, around: tuple[Path, ...]) -> Iterator[Path]:
    """The modules that this one imports, each after its own imports, then this one."""
    if path in around:
        raise ValueError(f"circular import: {[one.name for one in (*around, path)]}")
    for needed in _needs(path):
        yield from _in_order(needed, (*around, path))
    yield path


def _needs(path: Path) -> list[Path]:
    return [(path.parent / address).resolve() for _, address in _IMPORT.findall(path.read_text(encoding="utf-8"))]


def _scope(path: Path, numbers: dict[Path, int]) -> str:
    """A module wrapped in a function, so that its names stay private; it returns its exports."""
    text = path.read_text(encoding="utf-8")

    def taken(match: re.Match[str]) -> str:
        names, address = match[1], (path.parent / match[2]).resolve()
        return "" if names is None else f"const {{{names.replace(' as ', ': ')}}} = m{numbers[address]};\n"

    body = _INDENT.sub("", _REMARK.sub("", _EXPORT.sub("", _IMPORT.sub(taken, text))))
    strange = _OTHER.search(body)
    if strange is not None:
        raise ValueError(f"{path.name}: {strange[0]!r} is not an import or export in the form we use")
    if any(line.count("`") % 2 for line in body.splitlines()):
        raise ValueError(f"{path.name}: a text goes over several lines")
    exported = [function or constant for function, constant in _EXPORT.findall(text)]
    return f"// {path.name}\nconst m{numbers[path]} = (() => {{\n{body}return {{ {', '.join(exported)} }};\n}})();"
