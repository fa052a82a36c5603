"""What fields are called in a sentence about them, where they have no label of their own on the page."""

from __future__ import annotations

from shopfloor.core.errors import Problem
from shopfloor.core.phrases import Phrase, phrase
from shopfloor.web.language import say

_NAMES: dict[str, Phrase] = {
    "account": phrase("account"),
    "body": phrase("body"),
    "cause": phrase("cause"),
    "code": phrase("code"),
    "depth": phrase("depth"),
    "depth control": phrase("depth control"),
    "drill": phrase("drill"),
    "drilled": phrase("drilled"),
    "file": phrase("file"),
    "form": phrase("form"),
    "group": phrase("group"),
    "hardness": phrase("hardness"),
    "hole": phrase("hole"),
    "holes": phrase("holes"),
    "holes before": phrase("holes before"),
    "id": phrase("id"),
    "job": phrase("job"),
    "lubricant": phrase("lubricant"),
    "material": phrase("material"),
    "movement": phrase("movement"),
    "note": phrase("note"),
    "number": phrase("number"),
    "page": phrase("page"),
    "part fate": phrase("part fate"),
    "person": phrase("person"),
    "photograph": phrase("photograph"),
    "reason": phrase("reason"),
    "run": phrase("run"),
    "slip holes": phrase("slip holes"),
    "speed": phrase("speed"),
    "station": phrase("station"),
    "station rpm": phrase("station rpm"),
    "story": phrase("story"),
    "tap": phrase("tap"),
    "tap end": phrase("tap end"),
    "tap type": phrase("tap type"),
    "thread": phrase("thread"),
    "used": phrase("used"),
    "when": phrase("when"),
}


def sentence(problem: Problem) -> str:
    """The problem in the page's language, as every page prints it."""
    name = problem.field.replace("_", " ")
    return f"{say(_NAMES.get(name, name))}: {say(problem.what)}; {say(problem.remedy)}"
