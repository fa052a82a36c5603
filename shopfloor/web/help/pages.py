"""The handbook's table of contents, and which of its pages belongs to each page of the tool."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Flask, request, url_for

from shopfloor.core.phrases import phrase


@dataclass(frozen=True)
class HelpPage:
    """One page: the name in its address and of its template, its title, what it answers, and the page it is about."""

    name: str
    title: str
    answers: str
    about: str = ""


@dataclass(frozen=True)
class Chapter:
    """The pages for one person."""

    code: str
    title: str
    pages: tuple[HelpPage, ...]


AT_THE_STATION = Chapter(
    "operator",
    phrase("At the station"),
    (
        HelpPage(
            "log-a-batch",
            phrase("Log a batch"),
            phrase("Holes, cutting slips, how the tap is; then Save."),
            "operator.start",
        ),
        HelpPage(
            "broken-tap",
            phrase("A tap broke"),
            phrase("What to do first, and what to report while you remember."),
            "operator.start",
        ),
        HelpPage(
            "offline",
            phrase("Working offline"),
            phrase("What works, where entries wait, what to do."),
            "operator.start",
        ),
        HelpPage(
            "correct",
            phrase("Correct an entry"),
            phrase("Undo it, correct it, or cancel it."),
            "operator.start",
        ),
        HelpPage(
            "scan",
            phrase("Scan codes"),
            phrase("Fit a tap or choose a job with a scanner or the camera."),
            "operator.scan",
        ),
        HelpPage(
            "who",
            phrase("Names and PINs"),
            phrase("Whose name stands on Save, and what a PIN is for."),
            "who.tiles",
        ),
    ),
)
"""The chapter that a tablet keeps for offline use."""

CHAPTERS = (
    AT_THE_STATION,
    Chapter(
        "crib",
        phrase("Tool crib"),
        (
            HelpPage(
                "change-today",
                phrase("What to change today"),
                phrase("Which taps are due, and why."),
                "crib.board",
            ),
            HelpPage(
                "order",
                phrase("What to order"),
                phrase("How many of which tap, and what that rests on."),
                "crib.orders",
            ),
            HelpPage(
                "stock",
                phrase("Receive, count and move taps"),
                phrase("Deliveries, counts, regrinding, losses."),
                "crib.receive",
            ),
            HelpPage(
                "labels",
                phrase("Print labels"),
                phrase("For taps, jobs and stations, at the right size."),
                "crib.labels",
            ),
        ),
    ),
    Chapter(
        "quality",
        phrase("Quality"),
        (
            HelpPage(
                "breaks",
                phrase("Where taps break"),
                phrase("Rates by material and speed, and how to read them."),
                "quality.board",
            ),
            HelpPage(
                "tap-life",
                phrase("How long taps live"),
                phrase("Life curves, and the age at which to change."),
                "quality.life",
            ),
            HelpPage(
                "incidents",
                phrase("Incidents and suspect parts"),
                phrase("From the report to the parts to look at."),
                "quality.incident_list",
            ),
            HelpPage(
                "gauge",
                phrase("Gauge checks"),
                phrase("What GO/NO-GO checks show, and what a failed one opens."),
                "crib.taps",
            ),
        ),
    ),
    Chapter(
        "admin",
        phrase("Administrator"),
        (
            HelpPage(
                "first-day",
                phrase("The first day with your own log"),
                phrase("Import, serve, name, log."),
                "setup.start",
            ),
            HelpPage(
                "people",
                phrase("People, PINs and tablets"),
                phrase("Who gets in, and who may do what."),
                "access.overview",
            ),
            HelpPage(
                "https",
                phrase("https on the shop's network"),
                phrase("So that pages open offline."),
            ),
            HelpPage(
                "backup",
                phrase("Backup and newer versions"),
                phrase("Copy the shop, bring it back, upgrade."),
            ),
        ),
    ),
    Chapter(
        "reference",
        phrase("Reference"),
        (
            HelpPage(
                "columns",
                phrase("Columns of an import"),
                phrase("Every column that a file of runs may have."),
            ),
            HelpPage(
                "programs",
                phrase("Runs from another program"),
                phrase("Send runs as JSON; what each answer means."),
            ),
            HelpPage(
                "commands",
                phrase("The command line"),
                phrase("Every command with its options."),
            ),
        ),
    ),
)

PAGES = {page.name: page for chapter in CHAPTERS for page in chapter.pages}
KEPT = frozenset(page.name for page in AT_THE_STATION.pages)

HELP_OF = {
    "operator.start": "log-a-batch",
    "operator.station": "log-a-batch",
    "operator.save": "log-a-batch",
    "operator.card": "log-a-batch",
    "operator.job": "log-a-batch",
    "operator.next_tap": "log-a-batch",
    "operator.offline": "offline",
    "operator.entries": "correct",
    "operator.correct": "correct",
    "operator.scan": "scan",
    "operator.person": "who",
    "who.tiles": "who",
    "who.pin": "who",
    "who.password": "who",
    "crib.board": "change-today",
    "crib.orders": "order",
    "crib.taps": "stock",
    "crib.tap": "stock",
    "crib.receive": "stock",
    "crib.ledger": "stock",
    "crib.movement": "stock",
    "crib.types": "stock",
    "crib.new_type": "stock",
    "crib.tap_type": "stock",
    "crib.labels": "labels",
    "crib.check": "gauge",
    "setup.labels": "labels",
    "quality.board": "breaks",
    "quality.life": "tap-life",
    "quality.incident_list": "incidents",
    "quality.incident": "incidents",
    "quality.gauge": "gauge",
    "setup.start": "first-day",
    "setup.things": "first-day",
    "access.overview": "people",
    "front.changes": "backup",
    "setup.person": "people",
}
"""By endpoint: where Help leads from there; from all other pages to the table of contents."""


def install(app: Flask) -> None:
    """Let every template lead to the handbook."""
    app.add_template_global(help_address)
    app.add_template_global(help_here)
    app.jinja_env.globals["help_pages"] = PAGES


def help_address(name: str) -> str:
    """Where the page of that name is; a tablet keeps those under the station's addresses."""
    return url_for("help.kept_page" if name in KEPT else "help.page", name=name)


def help_here() -> str:
    """Where Help leads from the current page: to the handbook page about it, else to the table of contents."""
    name = HELP_OF.get(request.endpoint or "")
    return help_address(name) if name else url_for("help.start")


def chapter_of(name: str) -> Chapter:
    """The chapter in which the page of that name stands."""
    return next(chapter for chapter in CHAPTERS if PAGES[name] in chapter.pages)
