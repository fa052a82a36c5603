"""The log-in forms."""

from __future__ import annotations

from flask import request, url_for

from shopfloor.web.forms.fields import CodeField, Form, SecretField
from shopfloor.web.security.readable import parts_of


class PinForm(Form):
    """The PIN of the person whose name was touched; people with a password type that."""

    secret = SecretField("PIN")


class PasswordForm(Form):
    """A log-in on any device, for people with a password."""

    person = CodeField("Your short code", hint="As 'ada'; Set up lists it under People.")
    secret = SecretField("Password")


def way_on() -> str:
    """The page to go back to: one of ours, never another site's."""
    wanted = request.values.get("next", "")
    parts = parts_of(wanted)
    is_ours = parts is not None and not parts.scheme and not parts.netloc
    is_path = wanted.startswith("/") and not wanted.startswith(("//", "/\\"))
    return wanted if is_ours and is_path and wanted.isprintable() else url_for("front.start")
