"""Sheets and scripts put together: everything is in it once, in an order that works."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from shopfloor.web.assets import bundles
from shopfloor.web.assets.bundles import BUNDLES, STATIC, bundled


@pytest.mark.parametrize("name", BUNDLES)
def test_every_bundle_is_served_and_kept(client: FlaskClient, name: str) -> None:
    """Under an address that changes with its parts."""
    found = re.search(r"/static/[0-9a-f]{12}/", client.get("/").text)
    assert found is not None
    answer = client.get(found[0] + name)
    assert (200, bundled(name)) == (answer.status_code, answer.data)
    assert "immutable" in answer.headers["Cache-Control"]


def test_a_module_stands_after_all_that_it_needs() -> None:
    """And once, however many need it."""
    text = bundled("bundles/operator.js").decode()
    made = re.findall(r"^const (m\d+) = \(\(\) => \{", text, re.M)
    assert len(made) == len(set(made))
    for number, part in enumerate(re.split(r"^const m\d+ = ", text, flags=re.M)[1:]):
        assert set(re.findall(r"\} = (m\d+);", part)) <= set(made[:number])


def test_what_is_served_is_as_strict_as_the_modules_are() -> None:
    """As a plain script it would be lenient: a misspelt name would become a new one in silence."""
    assert bundled("bundles/operator.js").startswith(b'"use strict";\n')


def test_the_tablets_database_is_asked_for_before_anything_else_is_made() -> None:
    """Browsers take long to open it, most of all the first time."""
    text = bundled("bundles/operator.js").decode()
    assert ["database.js", "open_database.js"] == re.findall(r"^// (\S+\.js)\n", text, re.M)[:2]


def test_every_script_of_the_operator_is_in_its_bundle() -> None:
    """What is not asked for by the pages' scripts would be dead."""
    text = bundled("bundles/operator.js").decode()
    names = {path.name for path in (STATIC / "js").glob("*/*.js")}
    assert set() == {name for name in names if f"// {name}\n" not in text}


def written(folder: Path, monkeypatch: pytest.MonkeyPatch, **modules: str) -> None:
    """Modules of our own in place of the tool's."""
    for name, text in modules.items():
        (folder / f"{name}.js").write_text(text)
    bundled.cache_clear()
    monkeypatch.setattr(bundles, "STATIC", folder)
    monkeypatch.setitem(BUNDLES, "x.js", ("a.js",))


def test_a_circle_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No order would serve both."""
    written(tmp_path, monkeypatch, a='import { b } from "./b.js";\n', b='import { a } from "./a.js";\n')
    with pytest.raises(ValueError, match="circular import"):
        bundled("x.js")


@pytest.mark.parametrize("line", ["export default 3;", "export let a = 3;", 'import x from "./b.js";'])
def test_other_ways_to_write_a_module_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, line: str) -> None:
    """Rather than served in a way that fails on the tablet."""
    written(tmp_path, monkeypatch, a=f"{line}\n", b="")
    with pytest.raises(ValueError, match="not an import or export"):
        bundled("x.js")


def test_a_text_over_several_lines_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its indentation would be lost."""
    written(tmp_path, monkeypatch, a="const a = `one\n  two`;\n", b="")
    with pytest.raises(ValueError, match="over several lines"):
        bundled("x.js")


def test_imports_exports_and_other_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each module keeps its own names to itself."""
    b = "export const one = 1;\nexport async function two() {}\nconst mine = 2;\n"
    written(tmp_path, monkeypatch, a='import {\n  one,\n  two as deux,\n} from "./b.js";\n', b=b)
    text = bundled("x.js").decode()
    assert "return { one, two };" in text
    assert re.search(r"const \{\s*one,\s*two: deux,\s*\} = m0;", text)
    assert "export" not in text


def test_remarks_stay_in_the_sources(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only those on lines of their own go; an address in a text is none."""
    code = '// A remark.\n/** Another,\n * longer. */\nconst a = "https://here"; // kept\n  // Gone.\nconst b = 1;\n'
    written(tmp_path, monkeypatch, a=code)
    text = bundled("x.js").decode()
    assert 'const a = "https://here"; // kept\nconst b = 1;\n' in text
    assert ("remark" in text, "longer" in text, "Gone" in text) == (False, False, False)
