"""Bring the catalogues of other languages up to date with what the source says, and tell what they lack.

    .venv-test/bin/python tests/house/catalogue.py

A text that is new in the source gets an empty place in each catalogue, to be filled in by hand; one that is gone is
dropped. Nothing is guessed. Exit code 0 means that every text has its translation.
"""

import ast
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_javascript
from babel.messages.pofile import read_po, write_po
from jinja2.ext import babel_extract

from shopfloor.web.front.news import news

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "shopfloor"
CATALOGUES = PACKAGE / "web" / "languages"
_CALLS_OF_SCRIPTS = {"say": None, "sayCount": None}
_CALLS_OF_TEMPLATES = ("_", "gettext", "ngettext", "pgettext", "npgettext")
_TROUBLE = {
    "Problem": (1, 2),
    "of": (1, 2),
    "problem": (1, 2),
    "at": (1, 2),
    "SetUpWarning": (1, 2, 3),
    "StyleChoice": (1,),
    "WorkMaterial": (0, 5),
    "CardLine": (0, 1, 2),
}
"""Calls that tell what is wrong and what would be right, and where in them that stands."""
_WORDS_OF_TROUBLE = {"what", "remedy", "reason", "do"}
"""Names of texts that are told a few lines later."""
_FOR_TERMINALS = (
    "cli", "store", "settings.py", "services/spreadsheets.py", "services/upkeep/moving.py",
    *(f"core/{name}.py" for name in (
        "decision/failure_probability", "decision/replacement", "floor/stock", "hierarchical/inference/posterior",
        "hierarchical/model/conditions", "hierarchical/model/design", "input/csv_table", "life_table/read",
        "survival/censored_data", "survival/estimates", "survival/logrank", "survival/poisson_rate",
        "survival/turnbull", "survival/weibull", "weibull_fit/fit", "weibull_fit/grouped_fit",
        "weibull_fit/likelihood", "weibull_fit/likelihood_region", "weibull_fit/regression",
        "weibull_fit/small_sample",
    )),
)  # fmt: skip
"""What speaks to whoever calls it by a program or at a terminal, never on a page."""
_HEADER = """msgid ""
msgstr ""
"Project-Id-Version: shopfloor\\n"
"Language: {code}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: {plural}\\n"

"""
_MARKS = ("phrase", "say")


@dataclass
class Found:
    """One text of the source: its id (with its plural), its context, and where it stands."""

    id: str | tuple[str, str]
    context: str | None
    place: str


@dataclass
class _PythonReader(ast.NodeVisitor):
    """The texts of one module, and those that no catalogue can hold because they are put together on the spot."""

    place: str
    found: list[Found] = field(default_factory=list)
    unreadable: list[str] = field(default_factory=list)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        """A vocabulary: the second of each member's values is what people read."""
        if any(isinstance(base, ast.Name) and base.id == "Word" for base in node.bases):
            for line in node.body:
                if isinstance(line, ast.Assign) and isinstance(line.value, ast.Tuple):
                    self._keep(line.value.elts[1])
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        """A call that marks a text."""
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name == "phrase_of" and len(node.args) > 2:
            self._keep_count(*node.args[1:3])
        elif name == "counted" and len(node.args) > 1:
            self._keep_noun(node)
        elif name in _MARKS and node.args:
            self._keep(node.args[0])
        elif name in _TROUBLE and len(node.args) > 1:
            for place in _TROUBLE[name]:
                for argument in node.args[place : place + 1]:
                    self._keep(argument, must=True)
        elif name.endswith("Field") and node.args:
            self._keep(node.args[0])
            for keyword in node.keywords:
                if keyword.arg == "hint":
                    self._keep(keyword.value)
        self.generic_visit(node)

    def visit_Assign(self, node: ast.Assign) -> None:
        """What is wrong and what would be right, before it is told."""
        for target, value in _pairs(node):
            if isinstance(target, ast.Name) and target.id in _WORDS_OF_TROUBLE:
                self._keep(value, must=True)
        self.generic_visit(node)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        """A field's own hint is the default of its `hint`."""
        names = [argument.arg for argument in node.args.kwonlyargs]
        for name, default in zip(names, node.args.kw_defaults, strict=True):
            if name == "hint" and default is not None:
                self._keep(default)
        self.generic_visit(node)

    def _keep(self, node: ast.expr, *, must: bool = False) -> None:
        if isinstance(node, ast.IfExp):
            self._keep(node.body, must=must)
            self._keep(node.orelse, must=must)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            if node.value:
                self.found.append(Found(node.value, None, self.place))
        elif must and isinstance(node, ast.JoinedStr | ast.BinOp):
            self.unreadable.append(f"{self.place}:{node.lineno}: {ast.unparse(node)}")

    def _keep_count(self, one: ast.expr, many: ast.expr) -> None:
        texts = _texts([one, many])
        if len(texts) > 1:
            self.found.append(Found((texts[0], texts[1]), None, self.place))

    def _keep_noun(self, node: ast.Call) -> None:
        nouns = _texts(node.args[1:3])
        if nouns:
            many = nouns[1] if len(nouns) > 1 else f"{nouns[0]}s"
            self.found.append(Found((f"{{number}} {nouns[0]}", f"{{number}} {many}"), None, self.place))


def _pairs(node: ast.Assign) -> list[tuple[ast.expr, ast.expr]]:
    target, value = node.targets[0], node.value
    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple):
        return list(zip(target.elts, value.elts, strict=True))
    return [(target, value)]


def _texts(nodes: list[ast.expr]) -> list[str]:
    return [node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)]


def unreadable() -> list[str]:
    """Complaints whose words are put together on the spot, so that no catalogue can hold them."""
    return [line for path in _files("*.py") for line in _read_module(path).unreadable]


def template() -> Catalog:
    """Every text of the source."""
    made = Catalog(charset="utf-8")
    for found in _all():
        made.add(found.id, locations=[(found.place, 0)], context=found.context)
    return made


def catalogues() -> dict[str, Catalog]:
    """The catalogues as they are, by language."""
    found = {}
    for path in sorted(CATALOGUES.glob("*/LC_MESSAGES/shopfloor.po")):
        code = path.parents[1].name
        with path.open("rb") as file:
            found[code] = read_po(file, locale=code)
    return found


def renew(code: str, catalogue: Catalog) -> list[str]:
    """Bring one catalogue up to date; returns the texts that it lacks."""
    catalogue.update(template(), no_fuzzy_matching=True)
    text = BytesIO()
    write_po(text, catalogue, width=116, omit_header=True, sort_output=True, ignore_obsolete=True, include_lineno=False)
    header = _HEADER.format(code=code, plural=catalogue.plural_forms)
    (CATALOGUES / code / "LC_MESSAGES" / "shopfloor.po").write_bytes(header.encode() + text.getvalue())
    return [str(message.id) for message in catalogue if message.id and not all(strings(message))]


def strings(message: Message) -> tuple[str, ...]:
    """A message's translation: one text, or one for each number."""
    return tuple(each(message.string) or ("",))


def each(text: str | Sequence[str] | None) -> Sequence[str]:
    """The forms of a text, for one and for many; a single one where it does not count."""
    return [text] if isinstance(text, str) else text or ()


def _all() -> Iterator[Found]:
    for path in _files("*.py"):
        yield from _read_module(path).found
    for path in _files("*.html"):
        yield from _read_template(path)
    for path in _files("*.js"):
        yield from _read_script(path)
    for kind, text in news():
        if kind != "h2":
            yield Found(text, None, "shopfloor/changes.md")


def _files(pattern: str) -> list[Path]:
    return sorted(path for path in PACKAGE.rglob(pattern) if not _is_for_terminals(path.relative_to(PACKAGE)))


def _is_for_terminals(path: Path) -> bool:
    return any(path.is_relative_to(part) for part in _FOR_TERMINALS)


def _place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def _read_module(path: Path) -> _PythonReader:
    reader = _PythonReader(_place(path))
    reader.visit(ast.parse(path.read_text(encoding="utf-8")))
    return reader


def _read_template(path: Path) -> Iterator[Found]:
    options = {"trimmed": "true", "newstyle_gettext": "true"}
    with path.open("rb") as file:
        for _, call, message, _ in babel_extract(file, _CALLS_OF_TEMPLATES, (), options):
            parts = _parts(message)
            context = parts.pop(0) if call.startswith(("p", "np")) else None
            yield Found((parts[0], parts[1]) if "ngettext" in call else parts[0], context, _place(path))


def _read_script(path: Path) -> Iterator[Found]:
    with path.open("rb") as file:
        for _, call, message, _ in extract_javascript(file, _CALLS_OF_SCRIPTS, (), {"parse_template_string": True}):
            parts = _parts(message)
            yield Found((parts[0], parts[1]) if call == "sayCount" else parts[0], None, _place(path))


def _parts(message: str | Sequence[str | None] | None) -> list[str]:
    """The texts among a call's arguments."""
    return [message] if isinstance(message, str) else [part for part in message or () if part is not None]


def main() -> int:
    """Renew every catalogue, and tell what is to be translated."""
    lacking = [f"{code}: {text}" for code, catalogue in catalogues().items() for text in renew(code, catalogue)]
    told = [*unreadable(), *lacking]
    sys.stdout.write("".join(f"{line}\n" for line in told))
    return 1 if told else 0


if __name__ == "__main__":
    sys.exit(main())
