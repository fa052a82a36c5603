"""Whether and when to change a tap, in the same words on every page."""

from __future__ import annotations

from flask import Flask

from shopfloor.core.decision.when_to_change import Action, Decision
from shopfloor.core.phrases import Phrase, phrase
from shopfloor.services.advice.outlook import Outlook
from shopfloor.web.i18n.formats import thread_length
from shopfloor.web.i18n.language import say

TONE = {
    Action.CHANGE_NOW: "warn",
    Action.WITHIN: "warn",
    Action.AFTER: "warn",
    Action.CARRY_ON: "good",
    Action.RUN_ON: "none",
    Action.NOT_KNOWN: "none",
}


def install(app: Flask) -> None:
    """Register the filters."""
    for filter_ in (what_to_do, best_changed):
        app.add_template_filter(filter_)


def what_to_do(decision: Decision, which: str = "") -> str:
    """What to do before or within the next batch, and `which` fresh tap to take; empty if no change is suggested."""
    return say(_DOING[decision.action](decision, which)) if decision.action in _DOING else ""


def best_changed(outlook: Outlook) -> str:
    """When it is best changed, and why the decision differs from it; empty if no change is suggested."""
    decision = outlook.decision
    if decision.change_at is None:
        return ""
    age = _age(outlook)
    if decision.action is Action.NOT_KNOWN:
        return say(phrase("Taps like this are best changed after {age}.", age=age))
    if decision.is_brought_forward:
        age = phrase("{age}, not {usual}, as its slips are high", age=age, usual=decision.usual_at)
    return say(_and_why_not_then(decision, age))


def _and_why_not_then(decision: Decision, age: Phrase) -> Phrase:
    """The best age and, if the tap is changed before or after it, why."""
    late, early = decision.past_best, decision.short_of_best
    if late:
        return phrase("Best changed after {age}; the end of this batch, {n} later, will do.", age=age, n=late)
    if early:
        return phrase("Best changed after {age}; {n} earlier, before this batch, will do.", age=age, n=early)
    return phrase("Best changed after {age}.", age=age)


def _fresh_now(_: Decision, which: str) -> Phrase:
    return phrase("Fit a fresh tap now{which}.", which=which)


def _within(decision: Decision, which: str) -> Phrase:
    return phrase("Change after hole {hole} of this batch{which}.", hole=decision.after_hole, which=which)


def _after(_: Decision, which: str) -> Phrase:
    return phrase("Carry on, and change after this batch{which}.", which=which)


def _carry_on(decision: Decision, _: str) -> Phrase:
    if decision.batches == 1:
        return phrase("Carry on through this batch.")
    return phrase("Carry on for about {batches} such batches.", batches=decision.batches)


_DOING = {Action.CHANGE_NOW: _fresh_now, Action.WITHIN: _within, Action.AFTER: _after, Action.CARRY_ON: _carry_on}


def _age(outlook: Outlook) -> Phrase:
    """The age at which to change, in the shop's measure."""
    holes = phrase("{holes} holes", holes=outlook.decision.change_at)
    if outlook.length is None or outlook.length.change_at_m is None:
        return holes
    length = thread_length(outlook.length.change_at_m)
    return phrase("{length} of thread ({holes} of this job)", length=length, holes=holes)
