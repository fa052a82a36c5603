"""`shopfloor people`: supervisors and PINs from the server's own keyboard."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from shopfloor.cli import main
from shopfloor.services.access.credentials import holders
from shopfloor.services.access.rules import access
from tests.factories import Shop, open_shop


@pytest.fixture
def shop(sqlite_url: str, tmp_path: Path) -> Shop:
    """Ada is an operator, Bo keeps the tool crib."""
    return open_shop(sqlite_url, tmp_path)


def people(shop: Shop, *words: str, typed: str = "") -> Result:
    """Run the command with what is typed."""
    return CliRunner().invoke(main, ["people", *words, "--database", shop.work.settings.database], input=typed)


def test_from_nobody_to_pins_in_use(shop: Shop) -> None:
    """A supervisor, an operator's PIN, PINs on and off; nothing typed is shown."""
    done = people(shop, "supervisor", "bo", typed="seven blunt taps\nseven blunt taps\n")
    assert (0, True) == (done.exit_code, "bo is a supervisor." in done.output)
    assert "seven blunt taps" not in done.output
    assert 0 == people(shop, "pin", "ada", typed="271828\n271828\n").exit_code
    assert [False, True] == [one.has_password for one in holders(shop.work)]
    assert (0, True) == (people(shop, "pins", "on").exit_code, access(shop.work).is_in_use)
    assert (0, False) == (people(shop, "pins", "off").exit_code, access(shop.work).is_in_use)
    shop.work.close()


@pytest.mark.parametrize(
    ("words", "typed", "told"),
    [
        (["pins", "on"], "", "make the first supervisor"),
        (["supervisor", "bo"], "short\nshort\n", "use 8 to 128"),
        (["pin", "ada"], "271828\n271829\n", "type the same twice"),
        (["pin", "eve"], "271828\n271828\n", "is not a person of this shop"),
    ],
)
def test_what_cannot_be_is_told(shop: Shop, words: list[str], typed: str, told: str) -> None:
    """On standard error, with exit code 2."""
    done = people(shop, *words, typed=typed)
    assert (2, True) == (done.exit_code, told in done.stderr)
    shop.work.close()
