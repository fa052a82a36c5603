"""Start page, health check, what is new."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, redirect, render_template, request
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response

import shopfloor
from shopfloor.services.health import is_ready
from shopfloor.services.overview import overview
from shopfloor.services.upkeep.timer import state_of_backups
from shopfloor.settings import LANGUAGES
from shopfloor.web.context import work
from shopfloor.web.front.news import marked, news
from shopfloor.web.i18n.language import COOKIE
from shopfloor.web.quality import sentences
from shopfloor.web.tablet import look

blueprint = Blueprint("front", __name__)

_YEAR_S = 365 * 24 * 3600


@blueprint.get("/")
def start() -> str:
    """Three large links, one for each person, with the figures of the pages that they open."""
    return render_template("front/start.html", shop=overview(work()), say=sentences)


@blueprint.get("/healthz")
def health() -> tuple[dict[str, Any], int]:
    """200 if an entry could be stored now, else 503; and whether the daily backup failed."""
    ready, backup = is_ready(work()), state_of_backups(work())
    return {"ready": ready, "version": shopfloor.__version__, "backup": backup}, 200 if ready else 503


@blueprint.get("/new")
def changes() -> str:
    """The changelog for users."""
    return render_template("front/changes.html", blocks=news(), marked=marked)


@blueprint.get("/language/<code>")
def speak(code: str) -> Response:
    """Switch this tablet to that language and return to the page it came from."""
    if code not in LANGUAGES:
        raise NotFound
    answer = redirect(_own_address(request.args.get("back", "")), 303)
    answer.set_cookie(COOKIE, code, max_age=_YEAR_S, httponly=True, samesite="Lax")
    return answer


@blueprint.get("/look/<code>")
def choose_look(code: str) -> Response:
    """Switch this tablet to light, dark or its own setting, and return to the page it came from."""
    if code not in look.LOOKS:
        raise NotFound
    answer = redirect(_own_address(request.args.get("back", "")), 303)
    if code == look.AS_THE_TABLET:
        answer.delete_cookie(look.COOKIE, samesite="Lax")
    else:
        answer.set_cookie(look.COOKIE, code, max_age=_YEAR_S, samesite="Lax")
    return answer


def _own_address(address: str) -> str:
    """The address if it is one of this server's; else the start page."""
    is_ours = address.startswith("/") and not address.startswith("//") and "\\" not in address
    return address if is_ours and address.isprintable() else "/"
