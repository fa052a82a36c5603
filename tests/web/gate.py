"""The small shop with PINs in use, and its cast: everybody knows who may do what."""

from __future__ import annotations

import re
from dataclasses import dataclass

from flask.testing import FlaskClient

from shopfloor.core.vocabulary import Role
from shopfloor.services.access import tablets
from shopfloor.services.access.credentials import give_secret, make_supervisor
from shopfloor.services.access.log_in import sign_in
from shopfloor.services.access.rules import use_pins
from shopfloor.store import Person, PersonRole
from tests.web.conftest import Shop

PIN, PASSWORD = "271828", "seven blunt taps"
CAST = {
    "ada": Role.OPERATOR,
    "ben": Role.CRIB,
    "gil": Role.QUALITY,
    "sue": Role.ADMIN,
}
"""The operator, the tool crib, the quality lead and the supervisor."""


@dataclass(frozen=True)
class Gate:
    """A shop with PINs in use, and one enrolled tablet."""

    shop: Shop
    client: FlaskClient
    tablet: int
    token: str

    def enrolled(self) -> FlaskClient:
        """The client is the enrolled tablet."""
        self.client.set_cookie("shopfloor-tablet", self.token)
        return self.client

    def stranger(self) -> FlaskClient:
        """The client is any device."""
        for name in ("shopfloor-tablet", "shopfloor-person"):
            self.client.delete_cookie(name)
        return self.client

    def as_(self, person: str) -> FlaskClient:
        """The client is the enrolled tablet with this person at it."""
        secret = PIN if CAST[person] is Role.OPERATOR else PASSWORD
        self.enrolled().set_cookie("shopfloor-person", sign_in(self.shop.work, person, secret, self.tablet))
        return self.client


def close(shop: Shop, client: FlaskClient) -> Gate:
    """Put PINs into use: ada has a PIN, the others have passwords, sue is the supervisor."""
    shop.add(Person(code="gil", name="Gil S.", roles=[PersonRole(role=Role.QUALITY)]))
    shop.add(Person(code="sue", name="Sue V.", roles=[PersonRole(role=Role.ADMIN)]))
    make_supervisor(shop.work, {"person": "sue", "secret": PASSWORD, "again": PASSWORD})
    for person, secret in (("ada", PIN), ("ben", PASSWORD), ("gil", PASSWORD)):
        give_secret(shop.work, {"person": person, "secret": secret, "again": secret})
    tablet, token = tablets.enrol(shop.work, "Arm 1", "sue")
    use_pins(shop.work, is_in_use=True)
    return Gate(shop, client, tablet, token)


def cookie(headers: list[str], name: str) -> str:
    """The cookie of that name among the headers that set one, with all that is said of it."""
    return next(header for header in headers if re.match(rf"(__Host-)?{name}=", header))
