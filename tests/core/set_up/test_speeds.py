from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopfloor.core.floor.cutting import SpeedBand
from shopfloor.core.set_up.materials import MATERIALS, SPEED_SOURCE, work_material
from shopfloor.core.set_up.speeds import (
    BandEvidence,
    NotProven,
    ProvenSpeed,
    advised_speed,
    proven_speed,
    start_range,
)
from shopfloor.core.survival.poisson_rate import rate_per_1000
from shopfloor.core.vocabulary import Substrate
from tests.published.cutting import cutting

WORDS = {
    "grey cast iron": "grey cast iron",
    "structural and plain carbon steel below 250 HB": "structural steel",
    "alloy steel below 250 HB": "alloy steel",
    "hardened and tempered steel 250-350 HB": "tempered steel",
    "stainless steel, all": "stainless",
    "austenitic stainless below 250 HB": "austenitic stainless",
    "nickel alloys 270-350 HB": "nickel alloys",
}
"""Printed names that are longer than a material's own."""

SLOW, MIDDLE, FAST = (SpeedBand("m/min", low, high) for low, high in ((4, 6.3), (6.3, 10), (10, 16)))


def seen(band: SpeedBand, holes: float, failures: int, breaks: int = 0) -> BandEvidence:
    """What a band's log holds."""
    return BandEvidence(band, rate_per_1000(failures, holes), rate_per_1000(breaks, holes))


@pytest.mark.parametrize("row", cutting("tapping-speed-ranges")["values"], ids=lambda row: str(row["material"]))
def test_published_start_ranges(row: dict[str, object]) -> None:
    """Each printed range, turned into m/min, with its group and its source."""
    material = work_material(WORDS.get(str(row["material"]), str(row["material"])))
    assert row["iso513"] == material.group.value
    assert row["range"] == list(material.hss_ft_min)
    start = start_range(material)
    assert [0.3048 * speed for speed in material.hss_ft_min] == pytest.approx([start.low_m_min, start.high_m_min])
    assert SPEED_SOURCE == start.source


def test_ranges_without_source_say_so() -> None:
    """Memory and common practice are called that."""
    named = {"alloy cast iron", "hardened steel"}
    assert named == {material.name for material in MATERIALS if "common practice" in material.speed_source}


def test_better_taps_start_faster_by_common_practice() -> None:
    """Substrate and coating raise both ends, and the source says that the factor is no published one."""
    steel = work_material("steel")
    highs = [start_range(steel, substrate).high_m_min for substrate in Substrate]
    assert sorted(highs) == highs
    coated = start_range(steel, Substrate.POWDER, is_coated=True)
    assert highs[2] < coated.high_m_min
    assert "Powder-metal HSS, coated: common practice, no source" in coated.source


def test_nothing_logged_proves_nothing() -> None:
    """And says what would."""
    answer = proven_speed([])
    assert isinstance(answer, NotProven)
    assert "nothing logged yet; a speed band counts from 5 failures or 1,000 holes" == answer.reason


def test_thin_evidence_proves_nothing() -> None:
    """Few failures in few holes are told as such."""
    answer = proven_speed([seen(SLOW, 120, 1), seen(FAST, 80, 0)])
    assert isinstance(answer, NotProven)
    assert answer.reason.startswith("1 failure in 120 holes at 4-6.3 m/min")


def test_clearly_worse_bands_are_not_proven() -> None:
    """Fast: four times the failures. Slow: about the same as the best."""
    answer = proven_speed([seen(FAST, 4000, 40), seen(SLOW, 2500, 6), seen(MIDDLE, 5000, 10)])
    assert isinstance(answer, ProvenSpeed)
    assert ((SLOW, MIDDLE), 4, 10, "m/min") == (answer.bands, answer.low, answer.high, answer.unit)
    assert "16 failures in 7,500 holes of this shop; best of 3 bands 6.3-10 m/min" in answer.reason
    assert (True, False) == (answer.holds(9.9), answer.holds(10))
    assert [SLOW, MIDDLE, FAST] == [part.band for part in answer.evidence]


def test_breaks_count_beside_failures() -> None:
    """A band that wears as slowly but breaks more is worse."""
    answer = proven_speed([seen(MIDDLE, 5000, 15, 0), seen(FAST, 5000, 15, 14)])
    assert isinstance(answer, ProvenSpeed)
    assert (MIDDLE,) == answer.bands


def test_a_band_alone_is_said_to_be_alone() -> None:
    """Proven to work, not to be best."""
    answer = proven_speed([seen(MIDDLE, 1200, 0), seen(FAST, 30, 1)])
    assert isinstance(answer, ProvenSpeed)
    assert "no other band has enough evidence" in answer.reason
    assert (MIDDLE,) == answer.bands


@given(st.permutations([seen(FAST, 4000, 40), seen(SLOW, 2500, 6), seen(MIDDLE, 5000, 10)]))
def test_order_of_evidence_does_not_matter(evidence: list[BandEvidence]) -> None:
    """Bands are a set."""
    assert proven_speed([seen(SLOW, 2500, 6), seen(MIDDLE, 5000, 10), seen(FAST, 4000, 40)]) == proven_speed(evidence)


@given(st.integers(0, 60), st.floats(1, 20_000), st.integers(0, 60), st.floats(1, 20_000))
def test_whatever_is_proven_has_evidence(f1: int, h1: float, f2: int, h2: float) -> None:
    """The best band with evidence enough is always proven; a band without never is."""
    evidence = [seen(SLOW, h1, f1), seen(FAST, h2, f2)]
    answer = proven_speed(evidence)
    enough = {part.band for part in evidence if part.is_enough}
    assert bool(enough) == isinstance(answer, ProvenSpeed)
    if isinstance(answer, ProvenSpeed):
        assert set(answer.bands) <= enough


def test_what_the_shop_has_proven_goes_before_what_is_published() -> None:
    """And where the log is too thin, the published start range stands; 10 m/min at 10 mm is 318 rpm."""
    start = start_range(work_material("steel"))
    proven = proven_speed([seen(MIDDLE, 5000, 10)])
    advised = advised_speed(proven, start)
    assert (True, 6.3, 10, proven.reason) == (advised.is_proven, advised.low, advised.high, advised.why)
    assert [200.5, 318.3] == pytest.approx(advised.rpm(10), abs=0.05)
    for thin in (None, proven_speed([seen(MIDDLE, 50, 0)])):
        advised = advised_speed(thin, start)
        assert (False, start.low_m_min, start.source) == (advised.is_proven, advised.low, advised.why)


def test_a_range_in_turns_stays_in_turns() -> None:
    """Where the log did not know the diameter its bands are in rpm already."""
    assert (200, 400) == advised_speed(
        proven_speed([seen(SpeedBand("rpm", 200, 400), 5000, 10)]), start_range(work_material("steel"))
    ).rpm(10)
