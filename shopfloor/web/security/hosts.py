"""The names this server answers to, so that another site cannot reach it under a name of its own.

The owner of an internet name can point it at this computer just after a browser has loaded a page from
it (DNS rebinding). To the browser that page then belongs to this server, and may write. So a request for a name that is
not ours is refused.
"""

from __future__ import annotations

import re
import socket
from collections.abc import Collection
from functools import cache
from ipaddress import IPv4Address, IPv6Address, ip_address

from flask import Flask, Response, request

from shopfloor.core.phrases import phrase
from shopfloor.settings import hosts_named
from shopfloor.web.context import work
from shopfloor.web.i18n.language import say

MISDIRECTED = 421

_ASKED = re.compile(r"(?P<name>[a-z0-9._-]+|\[[0-9a-f:.]+\])(?::(?P<port>[0-9]{1,5}))?", re.ASCII)
_LARGEST_PORT = 65535


def install(app: Flask) -> None:
    """Refuse requests under other names before anything else is done for them."""
    app.before_request(_turn_away)


@cache
def own_names() -> tuple[str, ...]:
    """Names this computer has for itself, and names a shop's network commonly has for it."""
    name = socket.gethostname().lower().rstrip(".")
    first = name.split(".")[0]
    return tuple(dict.fromkeys(("localhost", name, first, f"{first}.local", *_full_names(name))))


def served_names(app: Flask) -> tuple[str, ...]:
    """The names under which an application's pages are served, besides this computer's addresses."""
    with app.app_context():
        return tuple(dict.fromkeys((*own_names(), *sorted(hosts_named(work().settings.hosts)))))


def is_ours(asked: str, allowed: Collection[str] = ()) -> bool:
    """Whether a request for this host (name or address, with or without a port) may be answered.

    `allowed` are names beyond this computer's own; '*.' at the start stands for any one label.
    """
    name = _name_of(asked)
    if not name:
        return False
    address = _address(name)
    if address is not None:
        return str(address) in allowed or _is_own_address(address)
    return name in allowed or f"*.{name.partition('.')[2]}" in allowed or name in own_names()


def _turn_away() -> Response | None:
    if is_ours(request.headers.get("Host", ""), hosts_named(work().settings.hosts)):
        return None
    told = phrase("This address is not one of the server's own. Whoever runs the server can add it to SHOPFLOOR_HOSTS.")
    return Response(f"{say(told)}\n", MISDIRECTED, {"Cache-Control": "no-store"}, mimetype="text/plain")


def _name_of(asked: str) -> str:
    """The name or address alone, in canonical form; empty if it is neither."""
    found = _ASKED.fullmatch(asked.lower())
    if found is None or int(found["port"] or 1) not in range(1, _LARGEST_PORT + 1):
        return ""
    return found["name"].removesuffix(".").strip("[]")


def _address(name: str) -> IPv4Address | IPv6Address | None:
    try:
        address = ip_address(name)
    except ValueError:
        return None
    return getattr(address, "ipv4_mapped", None) or address


def _is_own_address(address: IPv4Address | IPv6Address) -> bool:
    """Whether it belongs to this computer now; a router may give it another one while the server runs."""
    if address.is_loopback:
        return True
    if address.is_unspecified or address.is_multicast:
        return False
    family = socket.AF_INET if address.version == 4 else socket.AF_INET6
    try:
        # A program can bind only to the computer's own addresses. Nothing is sent, and this does not wait.
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.bind((str(address), 0))
    except OSError:
        return False
    return True


def _full_names(name: str) -> list[str]:
    """The computer's name with its domain, as the shop's network knows it."""
    try:
        found = socket.getaddrinfo(name, None, flags=socket.AI_CANONNAME)
    except (OSError, UnicodeError):
        return []
    return [full.lower().rstrip(".") for *_, full, _ in found if full and _address(full) is None]
