"""Assembles the application: the one place where its parts meet."""

from __future__ import annotations

from datetime import timedelta

from flask import Flask

from shopfloor import web
from shopfloor.services.record.work import Work
from shopfloor.web import errors
from shopfloor.web.access import views as access
from shopfloor.web.assets import compression, pages, plotly_script
from shopfloor.web.context import bind_work
from shopfloor.web.crib import views as crib
from shopfloor.web.drawing import life_bar
from shopfloor.web.forms import fields
from shopfloor.web.front import views as front
from shopfloor.web.help import pages as help_pages
from shopfloor.web.help import views as help_
from shopfloor.web.help.commands import Commands, bind_commands
from shopfloor.web.i18n import decision_words, formats, language, odds
from shopfloor.web.monitoring import metrics, request_ids
from shopfloor.web.operator import views as operator
from shopfloor.web.quality import views as quality
from shopfloor.web.security import hosts, policy, readable, roles
from shopfloor.web.security.limits import LARGEST_BODY
from shopfloor.web.setup import views as setup
from shopfloor.web.sync import views as sync
from shopfloor.web.tablet import look
from shopfloor.web.who import views as who

_REMEMBERED = timedelta(days=365)


def create_app(work: Work, commands: Commands = tuple) -> Flask:
    """The web application on this database, settings and clock; its handbook lists the program's `commands`."""
    app = Flask(web.__name__, static_folder=None)
    app.config.update(
        SECRET_KEY=work.settings.secret_key(),
        MAX_CONTENT_LENGTH=LARGEST_BODY,
        MAX_FORM_MEMORY_SIZE=LARGEST_BODY,
        PERMANENT_SESSION_LIFETIME=_REMEMBERED,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        # A cookie that changes with each answer would make browsers reload every cached file.
        SESSION_REFRESH_EACH_REQUEST=False,
        # A form may wait on a tablet for longer than any Wi-Fi outage; the token stays bound to the session.
        WTF_CSRF_TIME_LIMIT=None,
    )
    bind_work(app, work)
    for part in (
        request_ids,
        metrics,
        hosts,
        readable,
        compression,
        policy,
        language,
        roles,
        errors,
        fields,
        formats,
        odds,
        decision_words,
        life_bar,
        look,
        pages,
        plotly_script,
        help_pages,
    ):
        part.install(app)
    bind_commands(app, commands)
    for area in (front, who, operator, crib, quality, setup, access, sync, help_, metrics):
        app.register_blueprint(area.blueprint)
    return app
