"""The chance that a tap breaks, in the same words on every page."""

from __future__ import annotations

from flask import Flask

from shopfloor.core.hierarchical.prediction.slip_factor import SlipEvidence
from shopfloor.core.phrases import phrase, phrase_of
from shopfloor.core.survival.estimates import Estimate
from shopfloor.web.i18n.formats import chance, decimal, whole
from shopfloor.web.i18n.language import say

_EVEN = 0.5
"""Above it a bound says nothing, and a chance is not stated more exactly."""

HIGH = 0.25
"""From here on a fresh tap should be ready: common practice, no source."""


def install(app: Flask) -> None:
    """Register the filters."""
    for filter_ in (odds, odds_interval, is_high, slips_raise):
        app.add_template_filter(filter_)


def odds(risk: Estimate | None) -> str:
    """'1 in 12', a bound if only that is known, 'not known' if even that says nothing."""
    if risk is None:
        return say(phrase("not known"))
    if risk.value is not None:
        return chance(risk.value)
    return say(phrase("at most {chance}", chance=chance(risk.upper)) if risk.upper <= _EVEN else phrase("not known"))


def odds_interval(risk: Estimate | None) -> str:
    """'1 in 45 to 1 in 6'; empty if only a bound is known."""
    if risk is None or risk.value is None:
        return ""
    if risk.lower > _EVEN:
        return say(phrase("above 1 in 2"))
    low, high = chance(risk.lower), chance(risk.upper)
    return say(phrase("{low} to {high}", low=low, high=high)) if low != high else low


def is_high(risk: Estimate | None) -> bool:
    """Whether a break in the next batch is likely enough to keep a fresh tap at hand."""
    return risk is not None and risk.value is not None and risk.value >= HIGH


def slips_raise(slips: SlipEvidence) -> str:
    """That a tap's recent cutting slips raise the chance, and on what evidence; empty if they do not."""
    if not slips.raises:
        return ""
    return say(
        phrase_of(
            round(slips.slips),
            "Its cutting slips raise this about {times} times: {n} slip in its last {holes} holes, usual is {usual}.",
            "Its cutting slips raise this about {times} times: {n} slips in its last {holes} holes, usual is {usual}.",
            n=round(slips.slips),
            times=decimal(slips.factor),
            holes=whole(slips.holes),
            usual=decimal(slips.usual),
        )
    )
