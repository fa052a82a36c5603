"""The network address that a request comes from."""

from __future__ import annotations

from ipaddress import IPv6Address, ip_address, ip_network

from flask import request

from shopfloor.web.context import work

_OWN_PART_OF_V6 = 64
"""Bits of an IPv6 address that identify the network; a device can change the rest as often as it likes."""


def address() -> str:
    """The address (for IPv6, the network); forwarded addresses are trusted only from the shop's own proxy."""
    remote = request.remote_addr or ""
    if remote and remote == work().settings.proxy:
        # A client may have added others; the last one is what the proxy itself saw.
        remote = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip() or remote
    return _as_counted(remote)


def _as_counted(remote: str) -> str:
    try:
        found = ip_address(remote)
    except ValueError:
        return "?"
    if not isinstance(found, IPv6Address):
        return str(found)
    return str(found.ipv4_mapped or ip_network((found.packed, _OWN_PART_OF_V6), strict=False))
