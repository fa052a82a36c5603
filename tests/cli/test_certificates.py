"""Certificates for https: trusted by who installed the shop's authority, for the shop's own names alone."""

from __future__ import annotations

import hashlib
import shutil
import ssl
import stat
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from http.client import HTTPSConnection
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from flask import Flask, request

from shopfloor.cli import authority, main
from shopfloor.cli.authority import AUTHORITY_DAYS, SERVER_DAYS, Host, make
from shopfloor.cli.tls import TlsFront, names_in, read_certificate
from shopfloor.core.errors import InputError
from tests.answering import answering

NAME = "localhost.shop"
NOW = datetime.now(UTC).replace(microsecond=0)


def run(*arguments: str) -> Result:
    """What the command says."""
    return CliRunner().invoke(main, ["certificates", *arguments])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files, made once."""
    made = tmp_path_factory.mktemp("https")
    assert 0 == run(NAME, "127.0.0.1", "--folder", str(made)).exit_code
    return made


@pytest.fixture
def port(folder: Path) -> Iterator[int]:
    """The port of a server behind https that tells its scheme."""
    app = Flask("plain")
    app.add_url_rule("/", view_func=lambda: request.scheme)
    app.add_url_rule("/from", "from", view_func=lambda: str(request.remote_addr))
    app.add_url_rule("/much", "much", view_func=lambda: "x" * 3_000_000)
    context = read_certificate(folder / "server.crt", folder / "server.key")
    with answering(app, url_scheme="https") as behind:
        front = TlsFront(context, "127.0.0.1", 0, behind)
        app.wsgi_app = front.tell_clients(app.wsgi_app)  # type: ignore[assignment]
        yield front.start()
        front.close()


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
    assert (NAME, "127.0.0.1") == names_in(folder / "server.crt")


def test_a_certificate_without_names_has_none(folder: Path) -> None:
    """As the authority's own."""
    assert () == names_in(folder / "shop-ca.crt")


def test_another_name_is_refused(folder: Path, port: int) -> None:
    """The certificate is for its own name and address."""
    with pytest.raises(urllib.error.URLError, match="CERTIFICATE_VERIFY_FAILED"):
        fetch(f"https://localhost:{port}/", folder / "shop-ca.crt")


def is_trusted(made: Path, name: str) -> bool:
    """Whether OpenSSL, as tablets do, trusts the server's certificate by that name where the authority is installed."""
    browser = ssl.create_default_context(cafile=made / "shop-ca.crt")
    to_server, to_browser = ssl.MemoryBIO(), ssl.MemoryBIO()
    server = read_certificate(made / "server.crt", made / "server.key")
    here = browser.wrap_bio(to_browser, to_server, server_hostname=name)
    there = server.wrap_bio(to_server, to_browser, server_side=True)
    for side in (here, there, here):
        try:
            side.do_handshake()
        except ssl.SSLWantReadError:
            continue
        except ssl.SSLCertVerificationError:
            return False
    return True


def test_the_authority_cannot_vouch_for_others(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever has its key, and makes certificates with another program, can pose as nobody else."""
    monkeypatch.setattr(authority, "_must_vouch_for", lambda *_: None)
    for made, host in (("own", Host.named(NAME, [])), ("other", Host.named("bank.example", []))):
        shutil.copytree(folder, tmp_path / made)
        make(host, tmp_path / made, NOW)
    assert is_trusted(tmp_path / "own", NAME)
    assert not is_trusted(tmp_path / "other", "bank.example")


def test_an_authority_without_addresses_vouches_for_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A constraint that names none would leave them all open."""
    make(Host.named(NAME, []), tmp_path, NOW)
    monkeypatch.setattr(authority, "_must_vouch_for", lambda *_: None)
    make(Host.named(NAME, ["192.168.1.10"]), tmp_path, NOW)
    assert not is_trusted(tmp_path, NAME)


def test_another_name_needs_another_authority(folder: Path, tmp_path: Path) -> None:
    """It is refused before a tablet would; a name below the shop's own is not."""
    shutil.copytree(folder, tmp_path / "again")
    for name, address in (("bank.example", "127.0.0.1"), (NAME, "192.168.1.10")):
        with pytest.raises(InputError, match="cannot vouch for"):
            make(Host.named(name, [address]), tmp_path / "again", NOW)
    make(Host.named(f"tapping.{NAME}", []), tmp_path / "again", NOW)
    assert is_trusted(tmp_path / "again", f"tapping.{NAME}")


def test_renewing_keeps_the_authority(folder: Path, tmp_path: Path) -> None:
    """Tablets need nothing new."""
    shutil.copytree(folder, tmp_path / "again")
    make(Host.named(NAME, ["127.0.0.1"]), tmp_path / "again", NOW)
    assert (folder / "shop-ca.crt").read_bytes() == (tmp_path / "again" / "shop-ca.crt").read_bytes()
    assert (folder / "server.crt").read_bytes() != (tmp_path / "again" / "server.crt").read_bytes()
    assert is_trusted(tmp_path / "again", NAME)


def test_renewing_without_the_authority_s_key_is_refused(folder: Path, tmp_path: Path) -> None:
    """A new authority in its place would leave every tablet outside; nor does a key of another one do."""
    shutil.copytree(folder, tmp_path / "again")
    shutil.copyfile(folder / "server.key", tmp_path / "again" / "shop-ca.key")
    with pytest.raises(InputError, match="is not the key of"):
        make(Host.named(NAME, []), tmp_path / "again", NOW)
    (tmp_path / "again" / "shop-ca.key").unlink()
    with pytest.raises(InputError, match=r"put shop-ca\.key back"):
        make(Host.named(NAME, []), tmp_path / "again", NOW)


def test_a_certificate_ends_in_time(tmp_path: Path) -> None:
    """Browsers refuse one that lasts for over 398 days; none outlives its authority, which ends after ten years."""
    host, almost = Host.named(NAME, []), timedelta(days=AUTHORITY_DAYS - 10)
    assert NOW + timedelta(days=SERVER_DAYS) == make(host, tmp_path, NOW).ends_at
    assert NOW + timedelta(days=AUTHORITY_DAYS) == make(host, tmp_path, NOW + almost).ends_at
    with pytest.raises(InputError, match="expired on"):
        make(host, tmp_path, NOW + timedelta(days=AUTHORITY_DAYS))


@pytest.mark.skipif(sys.platform == "win32", reason="there the folder says who may read")
def test_keys_are_for_their_owner_alone(folder: Path) -> None:
    """Also where one is written over that others may read; nothing half-made stays."""
    assert [0o600] * 2 == [stat.S_IMODE((folder / name).stat().st_mode) for name in ("shop-ca.key", "server.key")]
    assert {"shop-ca.crt", "shop-ca.key", "server.crt", "server.key"} == {path.name for path in folder.iterdir()}


def test_the_fingerprint_is_told(tmp_path: Path) -> None:
    """As a tablet shows it, beside what becomes of each file."""
    done = run(NAME, "--folder", str(tmp_path))
    der = ssl.PEM_cert_to_DER_cert((tmp_path / "shop-ca.crt").read_text("ascii"))
    assert hashlib.sha256(der).digest().hex(":").upper() in done.stdout
    assert f"Lock away        {tmp_path / 'shop-ca.key'}" in done.stdout


@pytest.mark.parametrize("wrong", [["pc"], ["pc.shop", "192.168.1"], ["pc.shop\nx"]])
def test_bad_names_are_refused(wrong: list[str], tmp_path: Path) -> None:
    """In words, with exit code 2."""
    done = run(*wrong, "--folder", str(tmp_path))
    assert 2 == done.exit_code
    assert "write it like" in done.stderr


def test_a_folder_that_cannot_be_is_named(tmp_path: Path) -> None:
    """A file stands in its place."""
    (tmp_path / "https").write_text("a file", encoding="ascii")
    assert "name another folder" in run(NAME, "--folder", str(tmp_path / "https")).stderr


def test_a_certificate_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The message leads to the guide."""
    with pytest.raises(InputError, match=r"deploy/HTTPS\.md"):
        read_certificate(tmp_path / "none.crt", tmp_path / "none.key")
