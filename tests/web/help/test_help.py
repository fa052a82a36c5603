"""The handbook: every page in every language, tables as the program has them, and a way to each page."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from shopfloor.app import create_app
from shopfloor.cli.handbook import commands
from shopfloor.core.input.run_entry import FROM_A_TABLET, EntryLimits, read_run
from shopfloor.services.runs.csv_columns import COLUMNS, REQUIRED
from shopfloor.services.runs.csv_import import import_runs
from shopfloor.settings import LANGUAGES
from shopfloor.web import errors
from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.help import tables
from shopfloor.web.help.commands import PURPOSES
from shopfloor.web.help.pages import CHAPTERS, HELP_OF, KEPT, PAGES
from shopfloor.web.help.pictures import OF_THE_STATION, file_of
from shopfloor.web.sync.views import FIELDS
from tests.house import catalogue
from tests.web.conftest import Shop
from tests.web.gate import close

TEMPLATES = catalogue.PACKAGE / "web" / "templates"
HANDBOOK = "shopfloor/web/templates/help/"
LARGEST_PICTURE, ALL_PICTURES = 60_000, 1_500_000
CODE = re.compile(r"<code>([^<]*)</code>")
NAMED = re.compile(r'picture\("([^"]+)"')
LABEL = re.compile(r"<em>(.*?)</em>")


def address_of(name: str) -> str:
    """Where a page of the handbook is."""
    return f"/operator/help-{name}" if name in KEPT else f"/help/{name}"


def source(name: str) -> str:
    """The template of a page of the handbook."""
    return (TEMPLATES / "help" / f"{name}.html").read_text(encoding="utf-8")


def text(client: FlaskClient, name: str, language: str = "en") -> str:
    """A page of the handbook in a language."""
    answer = client.get(address_of(name), headers={"Accept-Language": language})
    assert 200 == answer.status_code, name
    return answer.text


def rows(page: str, caption: str) -> list[list[str]]:
    """The cells of the table with this caption, each as it is written."""
    table = page.split(caption, 1)[1].split("</table>", 1)[0].split("<tbody>", 1)[1]
    return [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.S) for row in table.split("<tr>")[1:]]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_page_is_drawn_in_every_language(client: FlaskClient, language: str) -> None:
    """With its own title, as the table of contents names it; the inspector looks over each."""
    contents = client.get("/help/", headers={"Accept-Language": language}).text
    titles = dict(re.findall(r'<a class="help-entry" href="([^"]+)"><strong>([^<]+)</strong>', contents))
    drawn = {address_of(name): re.findall(r"<h1>([^<]+)</h1>", text(client, name, language)) for name in PAGES}
    assert {address: [title] for address, title in titles.items()} == drawn


def test_a_page_has_one_address(client: FlaskClient) -> None:
    """What a tablet keeps is not elsewhere too; a name that no page has is not found."""
    for address in ("/help/log-a-batch", "/operator/help-stock", "/help/nothing", "/operator/help-nothing"):
        assert 404 == client.get(address).status_code, address


def test_the_handbook_is_open_to_whoever_is_not_logged_in(shop: Shop, client: FlaskClient) -> None:
    """With PINs in use too: it holds nothing of the shop."""
    stranger = close(shop, client).stranger()
    assert {200} == {stranger.get(address).status_code for address in ("/help/", *map(address_of, PAGES))}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_label_that_the_handbook_names_stands_on_a_page(language: str) -> None:
    """The very words that people see there."""
    said = [message for message in catalogue.template() if message.id]
    known = catalogue.catalogues().get(language)
    labels: dict[str, str] = {}
    told: list[tuple[str, str]] = []
    for message in said:
        ids = catalogue.each(message.id)
        found = message if known is None else known.get(message.id, message.context)
        words = ids if found is message or found is None else catalogue.strings(found)
        if all(place.startswith(HANDBOOK) for place, _ in message.locations):
            told += zip(ids, words, strict=True)
        else:
            labels |= dict(zip(ids, words, strict=True))
    wrong = [one for one in told if [labels.get(label) for label in LABEL.findall(one[0])] != LABEL.findall(one[1])]
    assert (True, []) == (any(LABEL.findall(english) for english, _ in told), wrong)


@pytest.mark.parametrize(("must", "caption"), [(True, "Columns that must be there"), (False, "Columns that may be")])
def test_the_columns_are_those_of_an_import(client: FlaskClient, must: bool, caption: str) -> None:
    """Each with every heading that does as well."""
    told = {CODE.findall(first)[0]: CODE.findall(also) for first, _, _, also in rows(text(client, "columns"), caption)}
    assert {names[0]: [*names[1:]] for field, names in COLUMNS.items() if must == (field in REQUIRED)} == told


def test_the_words_of_a_column_are_those_that_are_read(client: FlaskClient) -> None:
    """How a tap was at the end."""
    told = {CODE.findall(row[0])[0]: CODE.findall(row[2]) for row in rows(text(client, "columns"), "must be there")}
    assert ["still good", "worn", "chipped", "broken", "retired early"] == told["tap end"]


def test_every_field_of_a_run_has_a_meaning() -> None:
    """Of a file and of JSON."""
    assert {*COLUMNS} | FIELDS == {*tables.MEANINGS}


def test_the_fields_of_json_are_those_that_are_read(client: FlaskClient) -> None:
    """Those that must be there and those that may."""
    page = text(client, "programs")
    must, may = (
        frozenset(str(CODE.findall(row[0])[0]) for row in rows(page, caption))
        for caption in ("Fields that must be there", "Fields that may be there")
    )
    assert (set(FROM_A_TABLET), set(FIELDS - FROM_A_TABLET)) == (set(must), set(may))


def test_the_example_in_json_is_a_run(client: FlaskClient) -> None:
    """What the page sends is read without a complaint."""
    sent = json.loads(unescape(re.findall(r"-d '(.*?)'</code>", unescape(text(client, "programs")), re.S)[0]))
    limits = EntryLimits(datetime(2026, 4, 1, tzinfo=UTC), UTC, 5000, FROM_A_TABLET)
    assert (48, "T0001") == (read_run(sent, limits).holes, read_run(sent, limits).tap)


def test_the_example_of_a_file_can_be_imported(shop: Shop, client: FlaskClient, tmp_path: Path) -> None:
    """Every row of it is stored."""
    shown = unescape(re.findall(r'<code lang="en">(when,.*?)</code>', text(client, "columns"), re.S)[0])
    path = tmp_path / "log.csv"
    path.write_text(shown, encoding="utf-8")
    shop.clock.move(minutes=60 * 24 * 40)
    assert 3 == import_runs(shop.work, path).stored


def test_every_answer_of_the_interface_is_told() -> None:
    """Each status that comes with a remedy for programs, and the two of success."""
    assert {200, 201, *errors._FOR_PROGRAMS} == {*tables.ANSWERS}


def test_every_address_for_programs_is_listed(client: FlaskClient) -> None:
    """As the program answers them."""
    rules = {rule.endpoint for rule in client.application.url_map.iter_rules() if rule.endpoint.startswith("sync.")}
    assert rules == {*tables.ENDPOINTS}
    assert "<code>POST /sync/runs/RUN/photographs/PHOTOGRAPH</code>" in text(client, "programs")


def test_the_rights_are_those_of_the_table_of_roles(client: FlaskClient) -> None:
    """Operator, tool crib, quality lead, supervisor."""
    told = [[cell.strip() for cell in row[1:]] for row in rows(text(client, "people"), "Who may do what</caption>")]
    everybody, supervisor = ["yes"] * 4, ["no", "no", "no", "yes"]
    leads, crib, quality = ["no", "yes", "yes", "yes"], ["no", "yes", "no", "yes"], ["no", "no", "yes", "yes"]
    assert [everybody, leads, crib, quality, supervisor, supervisor] == told


def test_the_commands_are_those_of_the_program(shop: Shop) -> None:
    """Each with what its own --help prints."""
    page = unescape(text(create_app(shop.work, commands).test_client(), "commands"))
    assert {*PURPOSES} == {command.name for command in commands()}
    assert [] == [command.name for command in commands() if command.help not in page]
    assert "Usage: shopfloor runs import [OPTIONS] FILE" in page


def test_every_page_is_led_to_from_where_its_question_arises() -> None:
    """By Help in the header, by a link on a page, or by another page of the handbook for those at the server."""
    leading = "".join(path.read_text(encoding="utf-8") for path in TEMPLATES.rglob("*.html"))
    linked = {*HELP_OF.values(), *re.findall(r'(?:help_link|see)\("([^"]+)"\)', leading)}
    told_by_errors = {"programs"}
    assert {*PAGES} == linked | told_by_errors


def test_help_leads_from_pages_that_are_there(client: FlaskClient) -> None:
    """The table names no page that is gone."""
    endpoints = {rule.endpoint for rule in client.application.url_map.iter_rules()}
    assert set() == {*HELP_OF} - endpoints
    assert 'href="/help/labels"' in client.get("/crib/labels").text.split("</nav>")[0]
    assert 'href="/help/"' in client.get("/").text.split("</nav>")[0]


def test_each_chapter_is_for_one_person() -> None:
    """No page stands in two chapters."""
    assert len(PAGES) == sum(len(chapter.pages) for chapter in CHAPTERS)


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_pictures_are_there_small_and_all_shown(language: str) -> None:
    """Those that pages name, and no others."""
    named = {name for page in PAGES for name in NAMED.findall(source(page))}
    files = {path.stem: path.stat().st_size for path in (STATIC / file_of("x", language)).parent.iterdir()}
    assert named == {*files}
    assert {} == {name: size for name, size in files.items() if size > LARGEST_PICTURE}
    assert sum(files.values()) * len(LANGUAGES) < ALL_PICTURES


def test_the_tablet_keeps_the_stations_pages_with_their_pictures(client: FlaskClient) -> None:
    """The service worker is told each page of that chapter, all of which are served, and each picture in them."""
    worker = client.get("/operator/worker.js").text
    kept = json.loads(re.findall(r"^const HELP = (.*);$", worker, re.M)[0])
    assert {200} == {client.get(address).status_code for address in kept}
    assert [address_of(page.name) for page in CHAPTERS[0].pages] == kept
    assert {*OF_THE_STATION} == {name for page in KEPT for name in NAMED.findall(source(page))}
    assert {*OF_THE_STATION} <= {Path(file).stem for file in re.findall(r'"(/static/[^"]+)"', worker)}
