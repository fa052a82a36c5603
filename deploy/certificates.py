"""Make certificates for https on a shop's network, with an authority of the shop's own. Needs the program openssl.

    python3 deploy/certificates.py NAME [ADDRESS ...] [--folder FOLDER]

NAME is what tablets call the server (as tapping-pc.shop.internal), ADDRESS its fixed IP addresses. The first time it
makes the authority, which can vouch for these names alone; each time it makes a new certificate for the server, which
lasts 397 days. deploy/HTTPS.md tells the rest.
"""

from __future__ import annotations

import argparse
import ipaddress
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import check_python  # noqa: F401  (first: it stops an old Python with a plain sentence)

SERVER_DAYS = 397
AUTHORITY_DAYS = 3650
NAME = re.compile(r"(?=.{1,253}\Z)[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)+", re.IGNORECASE)
KEY = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes"]


class CertificateError(Exception):
    """Something that stops the making; the message says what and what to do."""


def main(arguments: list[str]) -> int:
    """Make what is asked for; 2 where that cannot be done."""
    wishes = read_arguments(arguments)
    try:
        make(wishes.name, wishes.address, wishes.folder)
    except CertificateError as error:
        print(f"Error: {error}", file=sys.stderr)
        return 2
    print(f"Tablets install  {wishes.folder / 'shop-ca.crt'}")
    print(f"The server uses  --certificate {wishes.folder / 'server.crt'} --key {wishes.folder / 'server.key'}")
    print(f"Lock away        {wishes.folder / 'shop-ca.key'}")
    return 0


def read_arguments(arguments: list[str]) -> argparse.Namespace:
    """What the command line asks for."""
    parser = argparse.ArgumentParser(description="Make certificates for https on a shop's network.")
    parser.add_argument("name", help="what tablets call the server, as tapping-pc.shop.internal")
    parser.add_argument("address", nargs="*", help="the server's fixed IP addresses")
    parser.add_argument("--folder", type=Path, default=Path("instance/https"), help="where they are put")
    return parser.parse_args(arguments)


def make(name: str, addresses: list[str], folder: Path) -> None:
    """An authority where there is none yet, and a certificate for the server by it."""
    if not NAME.fullmatch(name):
        raise CertificateError(f"'{name}' is no name with a dot in it; write it like tapping-pc.shop.internal")
    folder.mkdir(parents=True, exist_ok=True)
    if not (folder / "shop-ca.key").exists():
        make_authority(name, addresses, folder)
    make_server(name, addresses, folder)


def make_authority(name: str, addresses: list[str], folder: Path) -> None:
    """An authority that can vouch for this name and these addresses alone, so that a stolen key opens nothing else."""
    allowed = [f"permitted;DNS:{name}", *(f"permitted;IP:{mask(address)}" for address in addresses)]
    barred = [] if addresses else ["excluded;IP:0.0.0.0/0.0.0.0", "excluded;IP:::/::"]
    extensions = {
        "basicConstraints": "critical,CA:TRUE,pathlen:0",
        "keyUsage": "critical,keyCertSign,cRLSign",
        "nameConstraints": f"critical,{','.join(allowed + barred)}",
        "subjectKeyIdentifier": "hash",
    }
    files = ["-keyout", str(folder / "shop-ca.key"), "-out", str(folder / "shop-ca.crt")]
    with settings(f"Shop authority for {name}", extensions) as path:
        openssl("req", "-x509", *KEY, "-sha256", "-days", str(AUTHORITY_DAYS), "-config", path, *files)
    (folder / "shop-ca.key").chmod(0o600)


def make_server(name: str, addresses: list[str], folder: Path) -> None:
    """A certificate for the server."""
    names = [f"DNS:{name}", *(f"IP:{address}" for address in addresses)]
    extensions = {
        "basicConstraints": "critical,CA:FALSE",
        "keyUsage": "critical,digitalSignature",
        "extendedKeyUsage": "serverAuth",
        "subjectAltName": ",".join(names),
        "subjectKeyIdentifier": "hash",
        "authorityKeyIdentifier": "keyid",
    }
    request = folder / "server.csr"
    with settings(name, extensions) as path:
        files = ["-keyout", str(folder / "server.key"), "-out", str(request)]
        openssl("req", "-new", *KEY, "-sha256", "-config", path, *files)
        by = ["-CA", str(folder / "shop-ca.crt"), "-CAkey", str(folder / "shop-ca.key"), "-CAcreateserial"]
        into = ["-out", str(folder / "server.crt"), "-extfile", path, "-extensions", "extensions"]
        openssl("x509", "-req", "-in", str(request), *by, "-sha256", "-days", str(SERVER_DAYS), *into)
    request.unlink()
    (folder / "server.key").chmod(0o600)


def mask(address: str) -> str:
    """One address as a range that holds nothing else."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        raise CertificateError(f"'{address}' is no IP address; write it like 192.168.1.10") from None
    return f"{known}/{'255.255.255.255' if known.version == 4 else 'ffff:' * 7 + 'ffff'}"


class settings:  # noqa: N801  (used like a function)
    """A file of openssl's settings while the block runs."""

    def __init__(self, common_name: str, extensions: dict[str, str]) -> None:
        lines = [f"{key} = {value}" for key, value in extensions.items()]
        head = "[req]\nprompt = no\ndistinguished_name = who\nx509_extensions = extensions\n"
        self.text = head + f"[who]\nCN = {common_name[:64]}\n[extensions]\n" + "\n".join(lines) + "\n"

    def __enter__(self) -> str:
        handle, self.path = tempfile.mkstemp(suffix=".cnf")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(self.text)
        return self.path

    def __exit__(self, *_: object) -> None:
        Path(self.path).unlink()


def openssl(*arguments: str) -> None:
    """Run openssl quietly."""
    program = shutil.which("openssl")
    if program is None:
        raise CertificateError("the program openssl is missing; install it (on Windows it comes with Git)")
    done = subprocess.run([program, *arguments], capture_output=True, encoding="utf-8", check=False)
    if done.returncode:
        raise CertificateError(f"openssl {arguments[0]} failed: {done.stderr.strip()[-500:]}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
