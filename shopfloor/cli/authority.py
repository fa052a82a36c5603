"""Certificates for https on a shop's network, by a certificate authority of its own that can vouch for nothing else."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from shopfloor.core.errors import InputError

SERVER_DAYS = 397
"""Browsers reject certificates that last more than 398 days."""

AUTHORITY_DAYS = 3650
_SLOW_CLOCK = timedelta(hours=1)
"""How far behind a tablet's clock may be when the certificate is new."""

_NAME = re.compile(r"(?=.{1,253}\Z)[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)+", re.IGNORECASE)
_LONGEST_COMMON_NAME = 64
_NO_ADDRESSES = (ip_network("0.0.0.0/0"), ip_network("::/0"))
_USAGES = (
    "digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
    "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
)  # fmt: skip

AnyAddress = IPv4Address | IPv6Address


@dataclass(frozen=True)
class Host:
    """What tablets call the server: a name with a dot in it, and its fixed addresses."""

    name: str
    addresses: tuple[AnyAddress, ...]

    @classmethod
    def named(cls, name: str, addresses: Sequence[str]) -> Host:
        """The host as a person types it.

        Raises
        ------
        InputError    a name without a dot, something that is not an IP address
        """
        if not _NAME.fullmatch(name):
            what = f"'{name}' is not a name with a dot in it"
            raise InputError.of("name", what, "write it like tapping-pc.shop.internal")
        return cls(name.lower(), tuple(map(_address, addresses)))


@dataclass(frozen=True)
class Made:
    """The certificates now in the folder: the authority's fingerprint, and the server certificate's last day."""

    fingerprint: str
    ends_at: datetime


@dataclass(frozen=True)
class _Authority:
    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey


def make(host: Host, folder: Path, now: datetime) -> Made:
    """An authority if there is none yet, and a new server certificate signed by it.

    Raises
    ------
    InputError    an authority whose key is missing, that has expired or that cannot vouch for this host; a folder that
                  cannot be written
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        authority = _kept(folder) or _new_authority(host, folder, now)
        _must_vouch_for(authority, host, now)
        server = _new_server(authority, host, folder, now)
    except OSError as error:
        what = f"'{folder}' cannot be used ({error.strerror})"
        raise InputError.of("folder", what, "name another folder") from None
    return Made(authority.certificate.fingerprint(hashes.SHA256()).hex(":").upper(), server.not_valid_after_utc)


def _address(typed: str) -> AnyAddress:
    try:
        return ip_address(typed)
    except ValueError:
        raise InputError.of("address", f"'{typed}' is not an IP address", "write it like 192.168.1.10") from None


def _kept(folder: Path) -> _Authority | None:
    """The authority in the folder, if one was made."""
    certificate, key = folder / "shop-ca.crt", folder / "shop-ca.key"
    if not certificate.exists():
        return None
    if not key.exists():
        remedy = "put shop-ca.key back, or name another folder for a new authority, which each tablet must install"
        raise InputError.of("folder", f"'{folder}' has an authority without its key", remedy)
    try:
        signing = load_pem_private_key(key.read_bytes(), password=None)
        shown = x509.load_pem_x509_certificate(certificate.read_bytes())
    except (ValueError, TypeError):  # the latter if a password guards the key
        raise _mismatched(folder) from None
    if not isinstance(signing, ec.EllipticCurvePrivateKey) or shown.public_key() != signing.public_key():
        raise _mismatched(folder)
    return _Authority(shown, signing)


def _mismatched(folder: Path) -> InputError:
    what = f"shop-ca.key in '{folder}' is not the key of shop-ca.crt"
    return InputError.of("folder", what, "restore the two files as they were made")


def _new_authority(host: Host, folder: Path, now: datetime) -> _Authority:
    """An authority for this name and these addresses alone, so that a stolen key opens nothing else."""
    key = _new_key(folder / "shop-ca.key")
    who = _called(f"Shop authority for {host.name}")
    allowed = [x509.DNSName(host.name), *(x509.IPAddress(ip_network(address)) for address in host.addresses)]
    barred = None if host.addresses else [x509.IPAddress(network) for network in _NO_ADDRESSES]
    builder = (
        _certificate(who, who, key, now, now + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage("key_cert_sign", "crl_sign"), critical=True)
        .add_extension(x509.NameConstraints(allowed, barred), critical=True)
    )
    certificate = builder.sign(key, hashes.SHA256())
    _write(folder / "shop-ca.crt", certificate.public_bytes(Encoding.PEM), 0o644)
    return _Authority(certificate, key)


def _must_vouch_for(authority: _Authority, host: Host, now: datetime) -> None:
    """Refuse to make what every browser would refuse."""
    ends_at = authority.certificate.not_valid_after_utc
    if ends_at <= now:
        remedy = "name another folder for a new authority, which each tablet must install"
        raise InputError.of("folder", f"its authority expired on {ends_at:%Y-%m-%d}", remedy)
    wanted = [host.name, *map(ip_network, host.addresses)]
    strange = [str(name) for name in wanted if not _may_vouch_for(authority.certificate, name)]
    if strange:
        remedy = "name another folder for a new authority, which each tablet must install"
        raise InputError.of("name", f"the authority in the folder cannot vouch for {', '.join(strange)}", remedy)


def _may_vouch_for(authority: x509.Certificate, name: object) -> bool:
    """Whether its constraints, if it has any, let it; a name below an allowed one is allowed as well (RFC 5280)."""
    try:
        constraints = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    except x509.ExtensionNotFound:
        return True
    allowed = [one.value for one in constraints.permitted_subtrees or ()]
    return name in allowed or any(str(name).endswith(f".{one}") for one in allowed if isinstance(one, str))


def _new_server(authority: _Authority, host: Host, folder: Path, now: datetime) -> x509.Certificate:
    """A certificate for the server, which lasts no longer than the authority."""
    key = _new_key(folder / "server.key")
    issuer = authority.certificate
    ends_at = min(now + timedelta(days=SERVER_DAYS), issuer.not_valid_after_utc)
    names = [x509.DNSName(host.name), *map(x509.IPAddress, host.addresses)]
    builder = (
        _certificate(_called(host.name), issuer.subject, key, now, ends_at)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage("digital_signature"), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(authority.key.public_key()), critical=False)
    )
    certificate = builder.sign(authority.key, hashes.SHA256())
    _write(folder / "server.crt", certificate.public_bytes(Encoding.PEM), 0o644)
    return certificate


def _certificate(
    subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePrivateKey, now: datetime, ends_at: datetime
) -> x509.CertificateBuilder:
    """What all certificates share."""
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _SLOW_CLOCK)
        .not_valid_after(ends_at)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _called(name: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:_LONGEST_COMMON_NAME])])


def _usage(*allowed: str) -> x509.KeyUsage:
    return x509.KeyUsage(**{usage: usage in allowed for usage in _USAGES})


def _new_key(path: Path) -> ec.EllipticCurvePrivateKey:
    key = ec.generate_private_key(ec.SECP256R1())
    _write(path, key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()), 0o600)
    return key


def _write(path: Path, content: bytes, mode: int) -> None:
    """Replace the file as a whole; nobody but its owner may read a key, not even for a moment."""
    unfinished = path.with_suffix(".new")
    unfinished.unlink(missing_ok=True)
    with open(unfinished, "xb", opener=lambda name, flags: os.open(name, flags, mode)) as file:
        file.write(content)
    unfinished.replace(path)
