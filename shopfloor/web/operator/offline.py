"""What makes the operator's pages work offline: the service worker, its page, and the redirect after sending."""

from __future__ import annotations

import json
from uuid import UUID

from flask import Response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from shopfloor.core.errors import NotFound
from shopfloor.core.vocabulary import TapEnd
from shopfloor.services.station.log_entries import SentRun, sent_run
from shopfloor.web.assets.bundles import STATIC
from shopfloor.web.assets.pages import static_address
from shopfloor.web.context import work
from shopfloor.web.help.pages import AT_THE_STATION, help_address
from shopfloor.web.help.pictures import OF_THE_STATION, file_of
from shopfloor.web.i18n.language import language
from shopfloor.web.operator.forms import KeptForm
from shopfloor.web.tablet import memory
from shopfloor.web.tablet.look import look

_SCRIPT = "js/worker.js"
_KEPT = (
    "bundles/operator.css",
    "css/night.css",
    "bundles/operator.js",
    "css/card.css",
    "css/help.css",
    "icons/mark.svg",
)
"""What the pages need that a tablet keeps."""

_LONGEST_NUMBER = 9


def worker() -> Response:
    """The service worker's script, with the files of this version and the language of its pages.

    Changing light or dark changes it, too: the browser reinstalls it, and the kept pages are fetched again.
    """
    known = {
        "FILES": [static_address(name) for name in _KEPT],
        "PAGE": url_for("operator.offline"),
        "HELP": [help_address(page.name) for page in AT_THE_STATION.pages],
        "PICTURES": [static_address(file_of(name, language())) for name in OF_THE_STATION],
        "LANGUAGE": language(),
    }
    text = (STATIC / _SCRIPT).read_text(encoding="utf-8")
    head = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in known.items()) + f"// {look()}\n"
    response = Response(head + text, mimetype="text/javascript")
    response.cache_control.no_cache = True
    return response


def offline() -> str:
    """The page shown in place of one that is not on the tablet."""
    return render_template("operator/offline.html")


def go_on(station: str) -> AnyResponse:
    """Continue after a run that the tablet sent: with the next batch, or with the next tap for the rest of this one.

    A page with nothing to remember continues without this.
    """
    run, rest = _run(station), request.form.get("rest", "")
    if run.tap_end is TapEnd.STILL_GOOD or rest == "0":
        memory.end_batch(station)
    else:
        memory.keep_batch(station, run.batch_id, _number(rest))
    goal = "operator.station" if run.tap_end is TapEnd.STILL_GOOD else "operator.next_tap"
    return redirect(url_for(goal, station=station, saved=run.id), 303)


def kept_form() -> KeptForm:
    """The fields for correcting an entry that waits on the tablet."""
    return KeptForm(prefix="kept-")


def drawn_at() -> str:
    """When the page was rendered, by the server's clock."""
    return work().clock().isoformat()


def _run(station: str) -> SentRun:
    try:
        return sent_run(work(), UUID(request.form.get("run", "")), station)
    except ValueError:
        raise NotFound("the run's id cannot be read") from None


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= _LONGEST_NUMBER else None
