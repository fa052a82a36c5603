"""A sheet of labels: each with its square code, sizes in millimetres."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import segno
from flask import request
from markupsafe import Markup

from shopfloor.core.input.labels import Labelled
from shopfloor.services.catalogue.labels import Printed
from shopfloor.web.context import work

SIZES = (("large", "62 x 29 mm"), ("small", "25 x 30 mm"))
"""Label sizes by name, each with its title; the first is the default."""


@dataclass(frozen=True)
class Drawn:
    """A label ready to print: kind, code and check digits separate, so that each can be styled."""

    kind: Labelled
    code: str
    check: str
    printed: str
    lines: tuple[str, ...]
    square: Markup


@dataclass(frozen=True)
class Sheet:
    """The labels of a page, all of one size."""

    size: str
    labels: tuple[Drawn, ...]


def sheet_of(printed: Iterable[Printed]) -> Sheet:
    """The sheet in the size requested in the address."""
    names = [name for name, _ in SIZES]
    asked = request.args.get("size", "")
    return Sheet(asked if asked in names else names[0], tuple(map(_drawn, printed)))


def square_code(text: str) -> Markup:
    """The square code (QR) of a text as SVG, which a scanner reads even where a quarter of it is dirty or scratched.

    segno adds the quiet zone that scanners need to find it (ISO/IEC 18004).
    """
    code = segno.make_qr(text, error="q")
    return Markup(code.svg_inline(omitsize=True, svgclass=None, lineclass=None))  # noqa: S704  (numbers alone)


def _drawn(one: Printed) -> Drawn:
    label = one.label
    square = square_code(work().settings.scan_prefix + label.scanned)
    return Drawn(label.kind, label.code, label.check, label.printed, one.lines, square)
