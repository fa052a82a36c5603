"""Photographs of a break: each served by its id alone, as a JPEG and nothing else; cancelled with a reason."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from flask import Response, request
from flask.typing import ResponseReturnValue
from werkzeug.wrappers import Response as AnyResponse

from shopfloor.core.input.signature import read_signed
from shopfloor.core.phrases import phrase
from shopfloor.services.quality import photographs
from shopfloor.services.quality.incidents import incident_of
from shopfloor.web.context import work
from shopfloor.web.forms.revision import revise
from shopfloor.web.quality.blueprint import blueprint
from shopfloor.web.quality.break_incident import address_of, incident_page
from shopfloor.web.quality.forms import photograph_form

_POLICY = "default-src 'none'; sandbox; frame-ancestors 'none'"
"""Whatever a browser mistakes it for, it can load and run nothing."""


@blueprint.get("/photographs/<uuid:photograph>")
def photograph(photograph: UUID) -> AnyResponse:
    """The photograph itself; a browser that has it must ask before showing it again."""
    content, sha256 = photographs.photograph(work(), photograph)
    response = Response(content, mimetype="image/jpeg")
    response.headers["Content-Security-Policy"] = _POLICY
    response.headers["Content-Disposition"] = f"inline; filename=photograph-{photograph}.jpg"
    response.headers["Cross-Origin-Resource-Policy"] = "same-origin"
    response.cache_control.private = True
    response.cache_control.no_cache = True
    response.set_etag(sha256)
    return response.make_conditional(request)


@blueprint.post("/incidents/<uuid:run>/photographs/<uuid:photograph>/cancel")
def cancel_photograph(run: UUID, photograph: UUID) -> ResponseReturnValue:
    """Cancel a wrong photograph."""
    told, form = incident_of(work(), run), photograph_form(photograph, request.form)

    def cancel() -> None:
        signed = read_signed(form.raw())
        photographs.cancel_photograph(work(), run, photograph, signed.reason, signed.person)

    page = partial(incident_page, told, photograph_forms={photograph: form})
    return revise(form, cancel, page, done=phrase("Photograph cancelled"), onward=address_of(told))
