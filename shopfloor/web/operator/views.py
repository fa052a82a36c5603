"""The addresses of the operator's pages."""

from __future__ import annotations

from flask import Blueprint

from shopfloor.web.operator import card, card_words, choosing, entries, offline, page, scanning, script_limits, words

blueprint = Blueprint("operator", __name__, url_prefix="/operator")

# A shop may write a slash in a station's code.
_AT = "/<path:station>/"
_ENTRY = f"{_AT}entries/<uuid:run>/"

_ADDRESSES = (
    ("/", "start", choosing.start, "GET"),
    ("/worker.js", "worker", offline.worker, "GET"),
    ("/offline", "offline", offline.offline, "GET"),
    (_AT, "station", page.show, "GET"),
    (_AT, "save", page.save, "POST"),
    (f"{_AT}person", "person", choosing.person, "GET"),
    (f"{_AT}person", "choose_person", choosing.choose_person, "POST"),
    (f"{_AT}job", "job", choosing.job, "GET"),
    (f"{_AT}job", "choose_job", choosing.choose_job, "POST"),
    (f"{_AT}next-tap", "next_tap", choosing.next_tap, "GET"),
    (f"{_AT}next-tap", "choose_tap", choosing.choose_tap, "POST"),
    (f"{_AT}found-tap", "fit_found_tap", choosing.fit_found_tap, "POST"),
    (f"{_AT}end-batch", "end_batch", choosing.end_batch, "POST"),
    (f"{_AT}card", "card", card.show, "GET"),
    ("/scan", "scan", scanning.scan, "GET"),
    ("/scan", "take_scan", scanning.take_scan, "POST"),
    (f"{_AT}go-on", "go_on", offline.go_on, "POST"),
    (f"{_AT}entries", "entries", entries.show, "GET"),
    (f"{_ENTRY}undo", "undo", entries.undo, "POST"),
    (f"{_ENTRY}correct", "correct", entries.ask_correction, "GET"),
    (f"{_ENTRY}correct", "save_correction", entries.save_correction, "POST"),
    (f"{_ENTRY}cancel", "cancel", entries.cancel_entry, "POST"),
)

for rule, endpoint, view, method in _ADDRESSES:
    blueprint.add_url_rule(rule, endpoint, view, methods=[method])

for filter_ in (
    words.about,
    words.odds_told,
    words.tap_made,
    words.odds_rest_on,
    words.suggestion_for,
    words.portion_why,
    words.so_far,
    words.slips_told,
    words.hole_of,
    words.saved_words,
    words.undone_words,
    words.end_words,
    words.ended,
    words.standing_words,
    card_words.measure,
    card_words.both_units,
    card_words.drill_name,
    card_words.card_lines,
    card_words.band_lines,
    card_words.clutch_in_pounds,
    card_words.tone,
    card_words.source_kind,
):
    blueprint.add_app_template_filter(filter_)

for global_ in (
    offline.kept_form,
    offline.drawn_at,
    script_limits.script_limits,
    card_words.unit_pair,
    card_words.unit_of_length,
):
    blueprint.add_app_template_global(global_)
