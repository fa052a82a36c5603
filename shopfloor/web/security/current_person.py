"""Which tablet asks and who is logged in there, by two cookies that hold nothing but long random tokens.

Both are HttpOnly and SameSite=Lax, over https also Secure and prefixed `__Host-`; the database holds only fingerprints
of the tokens. Requests by scripts (`/sync/`) do not extend a log-in, except `POST /sync/here`, which says that somebody
touched the page.
"""

from __future__ import annotations

from datetime import timedelta

from flask import current_app, g, request
from werkzeug.wrappers import Response

from shopfloor.core.input.access_entries import Access
from shopfloor.services.access import log_in as log_in
from shopfloor.services.access.log_in import Who
from shopfloor.services.access.rules import access
from shopfloor.services.access.tablets import TabletHere, tablet_of
from shopfloor.web.context import work

_TABLET, _PERSON = "shopfloor-tablet", "shopfloor-person"
_TABLET_LASTS = timedelta(days=400)
"""As long as browsers allow; renewed at each log-in."""


def rules() -> Access:
    """The shop's rules of access."""
    if "access" not in g:
        g.access = access(work())
    found: Access = g.access
    return found


def tablet() -> TabletHere | None:
    """The enrolled tablet that sent the request."""
    if "tablet" not in g:
        token = request.cookies.get(_name(_TABLET))
        g.tablet = tablet_of(work(), token) if token else None
    found: TabletHere | None = g.tablet
    return found


def who() -> Who | None:
    """Who is logged in."""
    if "who" not in g:
        token = request.cookies.get(_name(_PERSON))
        here = tablet()
        g.who = log_in.known_again(work(), rules(), token, here.id if here else None) if token else None
    found: Who | None = g.who
    return found


def ask_nothing() -> None:
    """Stop looking anything up for the rest of the request: the database cannot be reached."""
    g.access, g.tablet, g.who = Access(), None, None


def let_in(response: Response, token: str) -> Response:
    """Set the log-in token, which the browser keeps until closed, and renew the tablet's longer-lived one."""
    _set(response, _PERSON, token)
    own = request.cookies.get(_name(_TABLET))
    if own and tablet():
        enrolled(response, own)
    return response


def enrolled(response: Response, token: str) -> Response:
    """Set the tablet's token."""
    _set(response, _TABLET, token, _TABLET_LASTS)
    return response


def sign_out() -> None:
    """Log out."""
    found = who()
    if found is not None:
        log_in.sign_out(work(), found.sign_in)
    g.who = None


def _set(response: Response, name: str, token: str, lasts: timedelta | None = None) -> None:
    response.set_cookie(_name(name), token, max_age=lasts, path="/", secure=_is_secure(), httponly=True, samesite="Lax")


def _name(name: str) -> str:
    # Browsers accept this prefix only over https, and never from another host of the same domain.
    return f"__Host-{name}" if _is_secure() else name


def _is_secure() -> bool:
    return request.is_secure or bool(current_app.config["SESSION_COOKIE_SECURE"])
