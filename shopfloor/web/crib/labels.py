"""Labels for taps."""

from __future__ import annotations

from flask import render_template, request

from shopfloor.core.phrases import phrase
from shopfloor.services.catalogue.labels import MOST_LABELS, tap_labels
from shopfloor.services.catalogue.tap_types import tap_type_codes
from shopfloor.web.context import work
from shopfloor.web.crib.blueprint import blueprint
from shopfloor.web.drawing.labels import SIZES, sheet_of

_SINCE = (("", phrase("Any time")), ("1", phrase("Since yesterday")), ("7", phrase("In the last 7 days")))


@blueprint.get("/labels")
def labels() -> str:
    """Printable labels for the selected taps."""
    code, tap_type, days = (request.args.get(name, "").strip() for name in ("code", "tap_type", "days"))
    known = dict(_SINCE)
    found = tap_labels(work(), code, tap_type, int(days) if days and days in known else None)
    return render_template(
        "crib/labels.html",
        sheet=sheet_of(found),
        sizes=SIZES,
        since=_SINCE,
        tap_types=[("", phrase("All")), *((kind, kind) for kind in tap_type_codes(work()))],
        asked={"code": code, "tap_type": tap_type, "days": days},
        most=MOST_LABELS,
    )
