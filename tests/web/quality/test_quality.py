"""The quality lead's pages: what they say, what they refuse, what they load."""

from __future__ import annotations

import gzip
import html
import json
import re
from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from shopfloor.app import create_app
from shopfloor.core.input.reader import is_writable
from shopfloor.core.survival.poisson_rate import rate_per_1000
from shopfloor.core.vocabulary import LifeMeasure
from shopfloor.services.ledger.taps import receive_tap
from shopfloor.services.shop import count_life_in
from shopfloor.store import Job, TapType
from tests.web.conftest import Shop

PAGES = ["/quality/", "/quality/incidents", "/quality/life"]
TABLE = re.compile(r"<table.*?</table>", re.S)
FIGURE = re.compile(r'<script type="application/json" id="[a-z]+-figure">(.*?)</script>', re.S)
PLOTLY = re.compile(r'data-script="([^"]+)"')


def page(client: FlaskClient, address: str, status: int = 200) -> str:
    """The text of a page, as a person reads it."""
    answer = client.get(address)
    assert status == answer.status_code
    return answer.get_data(as_text=True)


def words(text: str) -> str:
    """A page without its marks."""
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def figure(text: str) -> dict[str, Any]:
    """The first figure of a page."""
    found = FIGURE.findall(text)[0]
    return dict(json.loads(found))


def use_up(shop: Shop, *ages: int, **changes: Any) -> None:
    """Break a fresh M8 tap at each age."""
    for age in ages:
        tap = receive_tap(shop.work, None, "M8 spiral point", "ben")
        wanted = {"tap": tap, "holes": age, "broke_at_hole": age, "tap_end": "broken", "part_fate": "scrapped"}
        shop.log(**wanted | changes)


@pytest.mark.parametrize("address", PAGES)
def test_each_page_answers_on_an_empty_log(client: FlaskClient, address: str) -> None:
    """Friendly, without a chart, with what to do first."""
    text = page(client, address)
    assert re.search("Log the first batch|No broken tap is in the log", text)
    assert "plotly" not in text


def test_the_board_shows_the_rates_of_the_core(client: FlaskClient, shop: Shop) -> None:
    """Rate and exact interval in the table are those of the core."""
    use_up(shop, 100, 150)
    shop.log(holes=250)
    (table,) = TABLE.findall(page(client, "/quality/"))
    rate = rate_per_1000(2, 500)
    assert (4.0, 0.71, 12.6) == (rate.per_1000, round(rate.lower, 2), round(rate.upper, 1))
    assert "Structural steel 6.3-10 m/min thin 3 500 2 4.0 0.71 to 13" in words(table)


def test_the_board_says_the_worst_place_in_words(client: FlaskClient, shop: Shop) -> None:
    """With how sure it is, and against the average."""
    use_up(shop, 50, 50, 50, 50, job="J-1", rpm=400)
    shop.log(holes=2000)
    text = words(page(client, "/quality/"))
    assert "Structural steel at 10-16 m/min: 20 per 1,000 (6.8 to 46), 4 taps broke in 200 holes." in text
    assert "Even the low end lies above the average of 1.8." in text


def test_no_break_still_bounds_the_rate(client: FlaskClient, shop: Shop) -> None:
    """Zero breaks in 1,000 holes may be up to 3.0 per 1,000 (Garwood's limit for 0 at 90 %)."""
    shop.log(holes=1000)
    assert "No tap broke. The true rate may be up to 3.0 per 1,000 holes." in words(page(client, "/quality/"))


def test_slips_that_were_not_recorded_are_not_zero(client: FlaskClient, shop: Shop) -> None:
    """The table says that nobody told."""
    shop.log(cutting_slips=None)
    assert "not recorded" in page(client, "/quality/")


def test_the_heat_map_leaves_thin_and_empty_cells_without_colour(client: FlaskClient, shop: Shop) -> None:
    """Colour claims knowledge; words say why there is none."""
    use_up(shop, 50, 50, 50)
    shop.log(tap="T0003", job="J-2", rpm=250)
    heat, texts = figure(page(client, "/quality/"))["data"]
    assert [[None, None], [None, 20.0]] == heat["z"]
    assert ["0 thin", "no holes", "no holes", "20"] == [re.sub("<.*?>", "", t.split("<br>")[0]) for t in texts["text"]]


def test_names_cannot_break_out_of_a_figure(client: FlaskClient, shop: Shop) -> None:
    """A material's name is text, whatever it holds."""
    from shopfloor.store import Job, Material

    shop.add(Material(code="x", name="</script><script>alert(1)</script>"))
    shop.add(Job(code="J-9", part="x", material_id=3, thread="M8"))
    shop.log(job="J-9")
    text = page(client, "/quality/")
    assert "<script>alert" not in text
    assert "alert(1)" in json.dumps(figure(text))


def test_a_period_leaves_older_runs_out(client: FlaskClient, shop: Shop) -> None:
    """What happened before is not shown, and the page says that there is nothing."""
    shop.log()
    shop.clock.move(days=31)
    assert "No hole was logged here" in page(client, "/quality/?period=30")
    assert "48 holes" in words(page(client, "/quality/?period=90"))


def test_incidents_tell_the_story(client: FlaskClient, shop: Shop) -> None:
    """When, what, where, and what people said; a range where the hole is not known."""
    shop.log(holes=100)
    shop.log(holes=20, tap_end="broken", part_fate="reworked", cause="chips packed", note="Long <b>chips</b>.")
    text = words(page(client, "/quality/incidents"))
    assert "2026-03-02" in text
    assert "side plate J-1 Tapping arm 1 T0001 M8 spiral point Structural steel 300 101 to 120" in text
    assert "Chips packed Long <b>chips</b>. Part reworked" in text
    assert "By likely cause, whole period Likely cause Breaks Failed checks Chips packed 1 0" in text


def test_incidents_come_in_pages(client: FlaskClient, shop: Shop) -> None:
    """51 breaks: the second page holds one, and links keep the filter."""
    use_up(shop, *[1] * 51, cause="too fast")
    text = page(client, "/quality/incidents?page=2&cause=too+fast")
    assert 1 == text.count('<td class="when">')
    assert "cause=too+fast&amp;page=1" in text


def test_the_life_page_says_it_for_the_meeting(client: FlaskClient, shop: Shop) -> None:
    """A sentence, a figure, estimates with intervals, the values of the curve."""
    use_up(shop, 120, 200, 210, 260, 330)
    text = page(client, "/quality/life")
    assert re.search(r"One tap in ten is broken or worn out by hole \d+ \(90 %: \d+ to \d+\)\.", words(text))
    assert "M8 spiral point in any material at any speed: 5 taps, 5 failures, 1,120 holes." in words(text)
    assert 3 == len(TABLE.findall(text))
    names = [trace["name"] for trace in figure(text)["data"]]
    assert {"product-limit curve", "Weibull fit", "fit beyond the data", "failed"} <= set(names)


def test_the_life_page_tells_how_taps_end_and_whether_the_law_fits(client: FlaskClient, shop: Shop) -> None:
    """Each with its table or its reason; what the page rests on is said."""
    use_up(shop, 120, 200, 210, 260, 330)
    text = page(client, "/quality/life")
    assert "The Weibull distribution fits these lives." in words(text)
    assert "Judged by 499 simulated logs" in words(text)
    assert re.search(r"by hole 3[0-9]0, \d+ % have broken and 0 % have worn out; \d+ % are still good\.", words(text))
    assert "Based on these taps alone" in words(text)
    ends = json.loads(FIGURE.findall(text)[1])
    assert ["broken"] == [trace["name"] for trace in ends["data"] if "band" not in trace["name"]]
    assert "What goes with longer lives" not in words(text)


def test_the_life_page_tells_what_goes_with_longer_lives(client: FlaskClient, shop: Shop) -> None:
    """Speeds compared in plain words, with their tables."""
    use_up(shop, 260, 300, 340, 380, 420)
    use_up(shop, 60, 90, 110, 130, 150, rpm=450)
    text = words(page(client, "/quality/life"))
    assert re.search(r"Taps last longer at one speed than at another: chance alone .* in [\d.]+ % of logs\.", text)
    assert re.search(r"Life varies as speed to the power \u2212\d\.\d \(90 % interval: \u2212", text)
    assert re.search(r"At twice the speed 0\.\d+ 0\.\d+ to 0\.\d+ fewer holes", text)
    thin = words(page(client, "/quality/life?mode=wear"))
    assert "Too little to tell whether the smooth curve has the right form" in thin


def test_the_suggested_change_stands_in_the_figure(client: FlaskClient, shop: Shop) -> None:
    """An upright line where the words say."""
    use_up(shop, 300, 310, 320, 330, 340)
    text = page(client, "/quality/life")
    said = re.search(r"Change at (\d+) holes", words(text))
    assert said is not None
    assert [int(said[1])] == [shape["x0"] for shape in figure(text)["layout"]["shapes"]]


def test_no_failure_yet_is_an_answer(client: FlaskClient, shop: Shop) -> None:
    """The reason, what would be enough, and the bound in words."""
    shop.log(holes=400)
    text = words(page(client, "/quality/life"))
    assert "Not enough for a curve fit: no failure yet. Enough would be: two failures" in text
    assert re.search(r"At least nine taps in ten are not broken or worn out before hole \d+ \(90 % sure\)\.", text)


def test_two_failures_are_marked_as_thin(client: FlaskClient, shop: Shop) -> None:
    """A fit to two failures is not to be read like one to thirty."""
    use_up(shop, 100, 150)
    shop.log(holes=200)
    text = words(page(client, "/quality/life"))
    assert "Thin: 2 failures only." in text
    assert "calibrated for few failures" in text


def test_one_failure_shows_a_bound_only(client: FlaskClient, shop: Shop) -> None:
    """How lives spread cannot be told from one failure, so no curve is drawn through it."""
    use_up(shop, 100)
    shop.log(holes=200)
    text = words(page(client, "/quality/life"))
    assert "Not enough for a curve fit: one failure does not show how lives spread." in text


def test_a_thin_life_promises_no_saving(client: FlaskClient, shop: Shop) -> None:
    """Beside the words 'thin' no page says that a change in time saves, not even probably."""
    use_up(shop, 100, 104)
    text = words(page(client, "/quality/life"))
    assert "Thin: 2 failures only." in text
    assert "Too few failures in the log (2) to say whether changing in time saves; 3 would be enough." in text
    assert "probably" not in text


def test_a_careful_start_shows_what_it_rests_on(client: FlaskClient, shop: Shop) -> None:
    """What would be enough, from where it is known, and the chances by age as a chart beside its table."""
    use_up(shop, 100, 104)
    text = page(client, "/quality/life")
    said = words(text)
    at, failed, low, high = re.search(
        r"By hole (\d+), ([\d.]+) % of fresh taps are expected to have failed \(([\d.]+) to ([\d.]+) %, 90 % sure\)",
        said,
    ).groups()  # type: ignore[union-attr]
    assert float(low) < float(failed) < float(high)
    assert "The log has 2 failures; 3 would be enough for advice from the log alone." in said
    assert re.search(r"Based on 2 taps used this way, 2 failures among them, and [1-9]\d? % from like taps\.", said)
    drawn = next(json.loads(one) for one in FIGURE.findall(text) if "change at" in one)
    (line,) = drawn["layout"]["annotations"]
    (start,) = map(int, re.findall(r"change at (\d+) holes", line["text"]))
    assert f"A careful start from what is usual: change at about {start} holes" in said
    assert start <= int(at) < 2 * start
    table = next(one for one in TABLE.findall(text) if "Of fresh taps, in per cent" in one)
    assert f"{at} {failed} {low} to {high}" in words(table)
    use_up(shop, 108)
    assert "careful start" not in words(page(client, "/quality/life"))


def test_assumed_costs_are_called_assumed(client: FlaskClient, shop: Shop) -> None:
    """With what sets each; the price of a tap that has one is not among them."""
    use_up(shop, 300, 310, 320)
    text = words(page(client, "/quality/life"))
    assert "a change in time costs 18.00, a break 108.00, a worn tap 48.00." in text
    assert "Assumed cost of changing it (SHOPFLOOR_CHANGE_COST), a break (SHOPFLOOR_BREAK_COST), a worn tap" in text
    assert "without a price" not in text


def test_costs_that_the_shop_has_set_carry_its_currency(shop: Shop) -> None:
    """Once all are set nothing is assumed but the price of a tap type that has none."""
    use_up(shop, 300, 310, 320)
    shop.add(TapType(code="no price", thread="M8"))
    tap = receive_tap(shop.work, None, "no price", "ben")
    shop.log(tap=tap, tap_end="worn")
    own = replace(shop.work.settings, currency="EUR", change_cost=5.0, break_cost=70.0, wear_cost=20.0)
    client = create_app(replace(shop.work, settings=own)).test_client()
    text = words(page(client, "/quality/life?tap_type=M8 spiral point"))
    assert "a change in time costs 17.00 EUR, a break 87.00 EUR, a worn tap 37.00 EUR." in text
    assert "Assumed" not in text
    text = words(page(client, "/quality/life?tap_type=no price"))
    assert "Assumed cost of a tap without a price (SHOPFLOOR_DEFAULT_TAP_COST): each is set by the variable" in text
    assert "Give the price under the tap type's code." in text


def test_a_place_never_worked_in_is_no_error(client: FlaskClient, shop: Shop) -> None:
    """It names what was asked and leads back."""
    use_up(shop, 100)
    text = words(page(client, "/quality/life?tap_type=M8+spiral+point&material=stainless"))
    assert "No life of M8 spiral point is known in Stainless steel" in text


@pytest.mark.parametrize(
    ("address", "message"),
    [
        ("/quality/?tap_type=nope", "tap type: &#39;nope&#39; is not in the record"),
        ("/quality/?period=7", "period: &#39;7&#39; is not one of the choices"),
        ("/quality/incidents?cause=ghosts", "cause: &#39;ghosts&#39; is not one of the choices"),
        ("/quality/incidents?page=0", "page: there is no page 0"),
        ("/quality/incidents?page=-1", "page: &#39;-1&#39; is not a page"),
        ("/quality/life?tap_type=nope", "tap type: &#39;nope&#39; is not in the record"),
        ("/quality/life?material=cheese", "material: &#39;cheese&#39; is not in the record"),
        ("/quality/life?material=steel&speed=fast", "speed: &#39;fast&#39; is not a speed band"),
        ("/quality/life?mode=rust", "mode: &#39;rust&#39; is not one of the choices"),
    ],
)
def test_an_address_that_cannot_be_names_its_field(client: FlaskClient, address: str, message: str) -> None:
    """400, the field, and what would be right."""
    assert message in page(client, address, 400)


VALUES = st.text(max_size=30) | st.sampled_from(
    ["", "all", "30", "M8 spiral point", "steel", "6.3-10 m/min", "nan-inf m/min", "1"]
)
QUERIES = st.dictionaries(
    st.sampled_from(["tap_type", "period", "cause", "page", "material", "speed", "mode", "x"]), VALUES
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(address=st.sampled_from(PAGES), query=QUERIES)
def test_no_address_makes_a_page_fail(client: FlaskClient, address: str, query: dict[str, str]) -> None:
    """Any text in any field is answered, or refused with a message; what nobody can write names no page."""
    safe = {name: value.encode("utf-8", "replace") for name, value in query.items()}
    usual = (200, 400) if all(map(is_writable, query.values())) else (404,)
    assert client.get(f"{address}?{urlencode(safe)}").status_code in usual


def test_only_pages_with_a_chart_load_plotly(client: FlaskClient, shop: Shop) -> None:
    """And only they relax the content policy, for styles and images, not for scripts."""
    use_up(shop, 100, 120)
    policies = {address: client.get(address).headers["Content-Security-Policy"] for address in PAGES}
    assert [True, False, True] == [bool(PLOTLY.search(page(client, address))) for address in PAGES]
    assert [True, False, True] == ["style-src" in policy for policy in policies.values()]
    assert [False] * 3 == ["script-src" in policy for policy in policies.values()]


def test_plotly_comes_from_its_package_for_good(client: FlaskClient, shop: Shop) -> None:
    """Zipped where the browser can, kept for a year, under an address that names the version."""
    shop.log()
    (address,) = PLOTLY.findall(page(client, "/quality/"))
    plain = client.get(address, headers={"Accept-Encoding": "identity"})
    zipped = client.get(address, headers={"Accept-Encoding": "gzip"})
    assert plain.data == gzip.decompress(zipped.data)
    assert b"plotly.js" in plain.data[:200]
    assert ("gzip", "Accept-Encoding", "public, max-age=31536000, immutable") == (
        zipped.headers["Content-Encoding"],
        zipped.headers["Vary"],
        zipped.headers["Cache-Control"],
    )


def test_nothing_is_inline(client: FlaskClient, shop: Shop) -> None:
    """No handler, no style, no script but data."""
    use_up(shop, 100, 120)
    for address in PAGES:
        text = page(client, address)
        assert not re.search(r"\son[a-z]+=|\sstyle=|<style", text)
        assert [] == [tag for tag in re.findall(r"<script[^>]*>", text) if "src=" not in tag and "json" not in tag]


def test_the_life_page_and_its_charts_speak_the_pages_language(client: FlaskClient, shop: Shop) -> None:
    """The sentences, the axes, what a finger on a curve is told, and the marks of numbers."""
    use_up(shop, 120, 200, 210, 260, 330)
    client.set_cookie("language", "es")
    text = page(client, "/quality/life")
    assert "La distribución de Weibull se ajusta a estas vidas." in words(text)
    life, ends = (json.loads(figure) for figure in FIGURE.findall(text)[:2])
    assert "Machos que siguen buenos" == life["layout"]["yaxis"]["title"]["text"]
    assert "De todos los machos" == ends["layout"]["yaxis"]["title"]["text"]
    assert ",\u202f" == life["layout"]["separators"]
    assert "%{y:.0%} a los %{x:,.0f} agujeros<extra>roto</extra>" == ends["data"][1]["hovertemplate"]


def test_a_shop_that_counts_thread_reads_its_curves_in_thread(client: FlaskClient, shop: Shop) -> None:
    """In metres; in feet where the shop works in inches; nothing on the page is in holes but the advice for a job."""
    with shop.work.write() as session:
        job = session.scalars(select(Job)).first()
        assert job is not None
        job.depth_mm, code = 10.0, job.code
    use_up(shop, 360, 380, 400, 420, 440, job=code)
    count_life_in(shop.work, LifeMeasure.THREAD)
    text = page(client, "/quality/life")
    said = words(text)
    assert re.search(r"One tap in ten is [a-z ]+ by 3\.\d\d m of thread \(90 %: \d\.\d\d to \d\.\d\d m\)", said)
    assert "5 taps, 5 failures, 20.0 m of thread." in said
    assert "Estimates, in m of thread" in said
    assert "Holes on the tap" not in text
    drawn = [json.loads(one)["layout"]["xaxis"]["title"]["text"] for one in FIGURE.findall(text)]
    assert ["Thread cut by the tap, m"] * 2 == drawn
    (line,) = figure(text)["layout"]["annotations"]
    assert re.search(r"change at [1-3]\.\d\d.m of thread", line["text"])
    inch = create_app(replace(shop.work, settings=replace(shop.work.settings, units="inch"))).test_client()
    assert re.search(r"by 1[12]\.\d ft of thread \(90 %: \d+\.\d+ to \d+\.\d+ ft\)", words(page(inch, "/quality/life")))
