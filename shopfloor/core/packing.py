"""Arrays and plain facts as bytes, to be kept and read back exactly as they were; nothing in them can be run.

A body is numpy's own archive without pickled objects, compressed; the facts stand in it as JSON, in which numbers come
back to the last digit. Equal contents give equal bytes.
"""

from __future__ import annotations

import io
import json
import zlib
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

Arrays = dict[str, NDArray[Any]]

_FACTS = "facts as JSON"
_FAST = 1
"""Level of compression: more would take longer than the database takes to store what it saves."""


def packed(facts: Any, arrays: Mapping[str, NDArray[Any]] | None = None) -> bytes:
    """The bytes of facts, which JSON can hold, and of named arrays of numbers or texts."""
    told = np.frombuffer(json.dumps(facts, separators=(",", ":")).encode(), np.uint8)
    file = io.BytesIO()
    np.savez(file, allow_pickle=False, **{_FACTS: told, **(arrays or {})})
    return zlib.compress(file.getvalue(), _FAST)


def unpacked(body: bytes) -> tuple[Any, Arrays]:
    """The facts and arrays that were packed; tuples come back as lists."""
    with np.load(io.BytesIO(zlib.decompress(body)), allow_pickle=False) as archive:
        arrays = {name: archive[name] for name in archive.files}
    return json.loads(arrays.pop(_FACTS).tobytes()), arrays
