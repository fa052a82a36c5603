"""Each exception class has one answer: a page, or JSON under /sync/. No traceback ever reaches a user."""

from __future__ import annotations

import logging
from typing import Any

from flask import Flask, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from shopfloor.core.errors import Conflict, InputError, NotFound, OutdatedProgram, Problem
from shopfloor.core.input.run_entry import LONGEST_NOTE
from shopfloor.core.phrases import phrase
from shopfloor.services.access.attempts import TooSoon
from shopfloor.services.quality.images import PhotographTooLarge
from shopfloor.services.quality.photographs import NotKept
from shopfloor.services.record.work import UNREACHABLE, reason_of
from shopfloor.web.i18n.language import say
from shopfloor.web.monitoring.request_ids import request_id
from shopfloor.web.security import current_person
from shopfloor.web.security.limits import LARGEST_BODY
from shopfloor.web.security.roles import RoleLacking

_log = logging.getLogger(__name__)
Answer = tuple[Any, int]

_SENTENCES = {
    400: (phrase("The request could not be read"), phrase("Go back and send the form again.")),
    401: (
        phrase("You have been logged out"),
        phrase("Log in, then go back to the form: what you typed is still there."),
    ),
    403: (phrase("That is not allowed here"), phrase("Go back to the start page.")),
    404: (phrase("There is no such page"), phrase("The address may be mistyped; go back to the start page.")),
    405: (phrase("The page cannot be used that way"), phrase("Go back and use the buttons of the page.")),
    409: (
        phrase("This conflicts with what is on record"),
        phrase("Go back, look at the newest entries and try again."),
    ),
    413: (
        phrase("That is more than a batch can hold"),
        phrase("Send less: a note of at most {n} characters.", n=LONGEST_NOTE),
    ),
    429: (phrase("Too many wrong attempts"), phrase("Wait, or ask a supervisor to let you in.")),
    415: (phrase("The request is not JSON"), phrase("Go back and send the form again.")),
    500: (
        phrase("Something went wrong on our side"),
        phrase("Nothing was saved. Give this code to whoever runs this tool: {code}."),
    ),
    503: (phrase("The database cannot be reached"), phrase("Nothing was saved. Wait a moment and try again.")),
}

_FOR_PROGRAMS = {
    400: phrase("Correct what 'problems' names, then send the run again."),
    401: phrase("Give the PIN at this tablet, then send it again under the same id."),
    403: phrase("Send it from a program, or from a page of this server."),
    404: phrase("Send runs to POST /sync/runs."),
    405: phrase("Send runs with POST."),
    409: phrase("Do not send it again as it is: do what 'problems' says."),
    413: phrase(
        "Send one run a request, at most {bytes} bytes; a note holds at most {n} characters.",
        bytes=LARGEST_BODY,
        n=LONGEST_NOTE,
    ),
    429: phrase("Wait as long as 'problems' says."),
    415: phrase("Send Content-Type: application/json."),
    500: phrase(
        "Nothing was saved. Give this code to whoever runs this tool: {code}. Then send it again under the same id."
    ),
    503: phrase("Nothing was saved. Wait, then send it again under the same id."),
}
"""What a program can do, by status: it has no form to go back to."""

_OUTDATED = phrase("This server must be updated")
_RUN_AS_TOLD = phrase("Send a run as 'Runs from another program' under Help says.")
_OTHERWISE = (phrase("The request could not be answered"), phrase("Go back and try again."))


def install(app: Flask) -> None:
    """Register an answer for every exception that can leave a view."""
    app.register_error_handler(Conflict, lambda error: _problems(error, 409))
    app.register_error_handler(TooSoon, lambda error: _problems(error, 429))
    app.register_error_handler(PhotographTooLarge, lambda error: _problems(error, 413))
    app.register_error_handler(NotKept, _not_kept)
    app.register_error_handler(InputError, lambda error: _problems(error, 400))
    app.register_error_handler(NotFound, lambda error: _answer(404, []))
    app.register_error_handler(CSRFError, _stale_form)
    app.register_error_handler(RoleLacking, _role_lacking)
    app.register_error_handler(HTTPException, _http)
    for error in UNREACHABLE:
        app.register_error_handler(error, _unreachable)
    app.register_error_handler(OutdatedProgram, _outdated)
    app.register_error_handler(Exception, _unexpected)


def problem_json(problems: list[Problem] | tuple[Problem, ...]) -> list[dict[str, str]]:
    """Problems in the shape that all JSON answers share."""
    return [{"field": p.field, "what": say(p.what), "remedy": say(p.remedy)} for p in problems]


def _problems(error: InputError, status: int) -> Answer:
    return _answer(status, list(error.problems))


def _http(error: HTTPException) -> Any:
    if error.code is None or error.code < 400:
        return error
    return _answer(error.code, [])


def _role_lacking(error: RoleLacking) -> Answer:
    return _answer(
        403, [Problem("role", phrase("this is for: {needs}", needs=error.needs.value), "ask one of them to do it")]
    )


def _stale_form(error: CSRFError) -> Answer:
    # The answer does not say more: a forged form learns nothing.
    return _answer(400, [Problem("form", "it was opened in an earlier session", "open the page again")])


def _not_kept(error: NotKept) -> Answer:
    what, remedy = (
        "the server cannot write it to its disk",
        "tell whoever runs this tool; it is sent again automatically",
    )
    return _answer(503, [Problem("photograph", what, remedy)])


def _unreachable(error: Exception) -> Answer:
    _log.error("database not reachable: %s", reason_of(error))
    current_person.ask_nothing()
    return _answer(503, [])


def _outdated(error: OutdatedProgram) -> Answer:
    """503, so that tablets keep what they have until this server is updated."""
    _log.error("nothing is written: %s", error)
    current_person.ask_nothing()
    what, remedy = "the database has been upgraded and this server has not", "update this server and start it again"
    return _answer(503, [Problem("server", what, remedy)], title=_OUTDATED)


def _unexpected(error: Exception) -> Answer:
    # The route, not the address, which may hold what somebody entered.
    _log.error("unexpected error at %s %s", request.method, request.url_rule, exc_info=error)
    current_person.ask_nothing()
    return _answer(500, [], request_id())


def _answer(status: int, problems: list[Problem], code: str = "", title: str | None = None) -> Answer:
    usual, remedy = (say(text) for text in _SENTENCES.get(status, _OTHERWISE))
    title = say(title) if title else usual
    if request.path.startswith("/sync/"):
        remedy = say(_FOR_PROGRAMS.get(status, _RUN_AS_TOLD)).format(code=code)
        return {"error": title, "remedy": remedy, "problems": problem_json(problems)}, status
    remedy = remedy.format(code=code) if code else remedy
    return render_template("errors/error.html", title=title, remedy=remedy, problems=problems), status
