"""Ids of entries: version 7 UUIDs, which sort by time of creation."""

from __future__ import annotations

import secrets
import time
import uuid


def new_id() -> uuid.UUID:
    """A new id: 48 bits of milliseconds, the rest random (RFC 9562, section 5.7)."""
    value = (time.time_ns() // 1_000_000) << 80 | secrets.randbits(80)
    value = value & ~(0xF << 76) | 7 << 76
    return uuid.UUID(int=value & ~(0x3 << 62) | 2 << 62)
