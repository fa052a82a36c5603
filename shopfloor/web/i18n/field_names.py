"""Names of fields in sentences about them, for fields without a label on the page."""

from __future__ import annotations

from shopfloor.core.errors import Problem
from shopfloor.core.phrases import Phrase, phrase
from shopfloor.web.i18n.language import say

_NAMES: dict[str, Phrase] = {
    "account": phrase("account"),
    "batch id": phrase("batch id"),
    "body": phrase("body"),
    "broke at hole": phrase("broke at hole"),
    "cause": phrase("cause"),
    "check": phrase("check"),
    "class": phrase("class"),
    "code": phrase("code"),
    "cutting slips": phrase("cutting slips"),
    "depth": phrase("depth"),
    "depth control": phrase("depth control"),
    "device time": phrase("device time"),
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
    "kind": phrase("kind"),
    "lubricant": phrase("lubricant"),
    "material": phrase("material"),
    "measure": phrase("measure"),
    "mode": phrase("mode"),
    "moved at": phrase("time"),
    "movement": phrase("movement"),
    "name": phrase("name"),
    "note": phrase("note"),
    "number": phrase("number"),
    "page": phrase("page"),
    "part fate": phrase("part fate"),
    "percent": phrase("percentage of thread"),
    "period": phrase("period"),
    "person": phrase("person"),
    "photograph": phrase("photograph"),
    "pitch": phrase("pitch"),
    "point angle": phrase("point angle"),
    "reason": phrase("reason"),
    "result": phrase("result"),
    "role": phrase("role"),
    "rpm": phrase("speed in rpm"),
    "run": phrase("run"),
    "secret": phrase("PIN or password"),
    "slip holes": phrase("slip holes"),
    "sort": phrase("order"),
    "speed": phrase("speed"),
    "speed band": phrase("speed band"),
    "station": phrase("station"),
    "station rpm": phrase("station rpm"),
    "incident": phrase("incident"),
    "tablet": phrase("tablet"),
    "tap": phrase("tap"),
    "tap end": phrase("tap end"),
    "tap style": phrase("tap style"),
    "tap type": phrase("tap type"),
    "thread": phrase("thread"),
    "used": phrase("used"),
    "when": phrase("when"),
}


def sentence(problem: Problem) -> str:
    """The problem in the page's language, as every page prints it."""
    name = problem.field.replace("_", " ")
    return f"{say(_NAMES.get(name, name))}: {say(problem.what)}; {say(problem.remedy)}"
