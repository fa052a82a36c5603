"""How long a test waits, at last, for what must come: no machine is so loaded that it takes longer."""

from __future__ import annotations

import gzip
import re

import brotli
from flask import Response

PATIENCE_S = 120
"""A busy computer may take many seconds for the first page of a new log. How fast pages are is shown by tests.bench."""

PATIENCE_MS = 1000 * PATIENCE_S
_UNPACKED = {"": bytes, "br": brotli.decompress, "gzip": gzip.decompress}
_GIVES_UP = re.compile(r"const (GLANCE_MS|WAIT_MS|PATIENCE_MS|SILENCE_MS) = [\d_]+;")


def as_patient(response: Response) -> Response:
    """A script of ours that waits for a slow server, or the next key of a scanner, as long as the test does.

    A tablet takes a server that lets it wait for some seconds for one that is away, and goes on without. A loaded
    machine's server is not away: in a test it is so only where the test says so, and the tablet hears of that at once.
    """
    if response.mimetype == "text/javascript":
        response.direct_passthrough = False
        unpacked = _UNPACKED[response.headers.pop("Content-Encoding", "")]
        text = unpacked(response.get_data()).decode()
        response.set_data(_GIVES_UP.sub(rf"const \1 = {PATIENCE_MS};", text))
    return response
