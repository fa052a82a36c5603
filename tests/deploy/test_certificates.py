"""Certificates for https: trusted by who installed the shop's authority, for the shop's own names alone."""

from __future__ import annotations

import shutil
import ssl
import sys
import threading
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import suppress
from http.client import HTTPSConnection
from pathlib import Path

import pytest
import waitress
from flask import Flask, request

import certificates
from shopfloor.cli.tls import TlsFront, names_in, read_certificate
from shopfloor.core.errors import InputError
from tests.conftest import lacking

NAME = "localhost.shop"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files, made once."""
    if shutil.which("openssl") is None:
        lacking("no openssl")
    made = tmp_path_factory.mktemp("https")
    assert 0 == certificates.main([NAME, "127.0.0.1", "--folder", str(made)])
    return made


@pytest.fixture
def port(folder: Path) -> Iterator[int]:
    """The port of a server behind https that tells its scheme."""
    app = Flask("plain")
    app.add_url_rule("/", view_func=lambda: request.scheme)
    app.add_url_rule("/from", "from", view_func=lambda: str(request.remote_addr))
    app.add_url_rule("/much", "much", view_func=lambda: "x" * 3_000_000)
    inner = waitress.create_server(app, host="127.0.0.1", port=0, url_scheme="https")
    thread = threading.Thread(target=serve, args=[inner], daemon=True)
    thread.start()
    context = read_certificate(folder / "server.crt", folder / "server.key")
    front = TlsFront(context, "127.0.0.1", 0, inner.effective_port)
    app.wsgi_app = front.tell_clients(app.wsgi_app)  # type: ignore[assignment]
    yield front.start()
    front.close()
    inner.close()
    thread.join(timeout=10)


def serve(server: waitress.server.MultiSocketServer) -> None:
    """Answer until the socket is closed."""
    with suppress(OSError):
        server.run()


def fetch(address: str, authority: Path | None) -> bytes:
    """What a browser that trusts this authority gets."""
    context = ssl.create_default_context(cafile=authority)
    with urllib.request.urlopen(address, timeout=10, context=context) as answer:  # noqa: S310
        body: bytes = answer.read()
        return body


def test_a_tablet_with_the_authority_gets_pages(folder: Path, port: int) -> None:
    """Small and large ones; the application knows that it is https."""
    assert b"https" == fetch(f"https://127.0.0.1:{port}/", folder / "shop-ca.crt")
    assert 3_000_000 == len(fetch(f"https://127.0.0.1:{port}/much", folder / "shop-ca.crt"))


@pytest.mark.skipif(sys.platform != "linux", reason="only there a computer has a second address of its own")
def test_the_application_knows_who_asks(folder: Path, port: int) -> None:
    """Not the computer that ends https: waits after wrong passwords are for the address that they come from."""
    context = ssl.create_default_context(cafile=folder / "shop-ca.crt")
    client = HTTPSConnection("127.0.0.1", port, context=context, source_address=("127.0.0.2", 0), timeout=10)
    client.request("GET", "/from")
    assert b"127.0.0.2" == client.getresponse().read()
    client.close()


def test_a_tablet_without_it_gets_nothing(port: int) -> None:
    """Unknown authority."""
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        fetch(f"https://127.0.0.1:{port}/", None)


def test_a_server_knows_the_names_in_its_certificate(folder: Path) -> None:
    """Those that tablets open it by, without anybody setting them."""
    certificate = folder / "server.crt"
    assert (NAME, "127.0.0.1") == names_in(read_certificate(certificate, folder / "server.key"), certificate)


def test_another_name_is_refused(folder: Path, port: int) -> None:
    """The certificate is for its own name and address."""
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        fetch(f"https://localhost:{port}/", folder / "shop-ca.crt")


def test_the_authority_cannot_vouch_for_others(folder: Path, tmp_path: Path) -> None:
    """Even with its key nobody can pose as another site."""
    for name in ("shop-ca.crt", "shop-ca.key"):
        shutil.copyfile(folder / name, tmp_path / name)
    certificates.make_server("bank.example", [], tmp_path)
    with pytest.raises(certificates.CertificateError, match="permitted subtree violation"):
        certificates.openssl("verify", "-CAfile", str(tmp_path / "shop-ca.crt"), str(tmp_path / "server.crt"))
    certificates.openssl("verify", "-CAfile", str(folder / "shop-ca.crt"), str(folder / "server.crt"))


def test_renewing_keeps_the_authority(folder: Path, tmp_path: Path) -> None:
    """Tablets need nothing new."""
    shutil.copytree(folder, tmp_path / "again")
    certificates.make(NAME, ["127.0.0.1"], tmp_path / "again")
    assert (folder / "shop-ca.crt").read_bytes() == (tmp_path / "again" / "shop-ca.crt").read_bytes()
    assert (folder / "server.crt").read_bytes() != (tmp_path / "again" / "server.crt").read_bytes()


@pytest.mark.parametrize("wrong", [["pc"], ["pc.shop", "192.168.1"], ["pc.shop\nx"]])
def test_bad_names_are_refused(wrong: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In words, with exit code 2."""
    assert 2 == certificates.main([*wrong, "--folder", str(tmp_path)])
    assert "write it like" in capsys.readouterr().err


def test_a_certificate_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The message leads to the guide."""
    with pytest.raises(InputError, match=r"deploy/HTTPS\.md"):
        read_certificate(tmp_path / "none.crt", tmp_path / "none.key")
