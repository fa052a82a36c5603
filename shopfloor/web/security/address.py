"""The network address that a request comes from."""

from __future__ import annotations

from collections.abc import Iterable
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network

from flask import request

from shopfloor.web.context import work

_OWN_PART_OF_V6 = 64
"""Bits of an IPv6 address that identify the network; a device can change the rest as often as it likes."""


def address() -> str:
    """The address (for IPv6, the network); forwarded addresses are trusted only from the shop's own proxy."""
    return _as_counted(_remote())


def is_from(networks: Iterable[IPv4Network | IPv6Network]) -> bool:
    """Whether the request comes from this computer, over its loopback address, or from one of the networks.

    What a proxy passes on that is not the shop's own comes from anywhere, though the proxy may run on this computer.
    """
    found = _parsed(_remote())
    if found is None or (_is_passed_on() and not _is_own_proxy()):
        return False
    return found.is_loopback or any(found in network for network in networks)


def _remote() -> str:
    if not _is_own_proxy():
        return request.remote_addr or ""
    # A client may have added others; the last one is what the proxy itself saw.
    return request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip() or request.remote_addr or ""


def _is_own_proxy() -> bool:
    return bool(request.remote_addr) and request.remote_addr == work().settings.proxy


def _is_passed_on() -> bool:
    return any(header in request.headers for header in ("X-Forwarded-For", "Forwarded", "Via"))


def _parsed(remote: str) -> IPv4Address | IPv6Address | None:
    try:
        found = ip_address(remote)
    except ValueError:
        return None
    return getattr(found, "ipv4_mapped", None) or found


def _as_counted(remote: str) -> str:
    found = _parsed(remote)
    if found is None:
        return "?"
    return str(ip_network((found.packed, _OWN_PART_OF_V6), strict=False) if isinstance(found, IPv6Address) else found)
