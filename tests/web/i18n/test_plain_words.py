"""No message shows the inside of the program: an object, an empty value, the name of a constant."""

from __future__ import annotations

import re

from flask.testing import FlaskClient

from shopfloor.store import Job, Material, Person, Station, Tap, TapType
from tests.web.conftest import Shop
from tests.web.setup.things import GOOD
from tests.web.walk import TYPED, forms, kind, pages

INSIDE = re.compile(
    r"object at 0x|&lt;[a-z_]+\.|[(=;]None\b|\bNone(?:Type|&#39;)|\b[A-Z][A-Za-z]+\.[A-Z_]{2,}\b|\[&lt;"
    r"|datetime\.|Decimal\("
)
"""What Python shows of itself; 'None' alone is a word of the trade, too."""

LISTS = {"people": Person, "stations": Station, "materials": Material, "jobs": Job}
OTHERS = {
    "people": {"code": "ada", "name": "Eva", "role": "crib"},
    "stations": {"code": "arm-1", "name": "Press", "kind": "drill press", "rpm_min": "1", "rpm_max": "2"},
    "materials": {"code": "steel", "name": "Brass", "iso_group": "N", "hardness_hb": "90"},
    "jobs": {**GOOD["jobs"], "code": "J-1", "hole": "blind", "material": "stainless"},
}


def _words(page: str) -> str:
    """What people read of a page."""
    return re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", page, flags=re.S)


def test_a_message_about_what_is_known_tells_it_in_words(shop: Shop, client: FlaskClient) -> None:
    """Each field of a thing that is on record, given another value than it has."""
    for which, typed in OTHERS.items():
        answer = client.post(f"/setup/{which}", data=typed)
        assert 400 == answer.status_code
        assert "already" in answer.text
        assert [] == INSIDE.findall(_words(answer.text))
    other = {"code": "M8 spiral point", "thread": "M10", "style": "forming", "chamfer": "taper", "unit_cost": "3"}
    answer = client.post("/crib/types/new", data=other)
    assert (400, []) == (answer.status_code, INSIDE.findall(_words(answer.text)))
    assert {table.__tablename__: shop.count(table) for table in (*LISTS.values(), TapType, Tap)} == {
        "person": 2, "station": 2, "material": 2, "job": 4, "tap_type": 2, "tap": 3,
    }  # fmt: skip


def test_no_complaint_of_any_form_shows_the_inside(shop: Shop, client: FlaskClient) -> None:
    """Every form that a page has, with nothing in it, with nonsense, and with each field wrong by itself."""
    shop.log(tap_end="broken", broke_at_hole=20, cause="too fast", part_fate="good")
    drawn = {kind(action): (action, fields) for _, page in pages(client) for action, fields in forms(page.text)}
    assert len(drawn) > 20
    found = {}
    for action, fields in drawn.values():
        typed = [name for name in fields if not name.startswith(" ")]
        for wrong, value in [(typed, ""), (typed, TYPED), (typed, "-7"), *(([name], TYPED) for name in typed)]:
            data = {name.strip(): value if name in wrong else fields[name] for name in fields}
            answer = client.post(action, data=data, follow_redirects=True)
            if answer.mimetype == "text/html" and (inside := INSIDE.findall(_words(answer.text))):
                found[action] = inside
    assert {} == found
