"""Settings are read once, checked at start, and wrong ones are named."""

from __future__ import annotations

from pathlib import Path

import pytest

from shopfloor.core.errors import InputError
from shopfloor.settings import Settings, settings_from


def test_defaults_and_environment() -> None:
    """What the environment does not name keeps its default."""
    settings = settings_from({"SHOPFLOOR_LARGEST_BATCH": "800", "SHOPFLOOR_TIME_ZONE": "Europe/Paris", "HOME": "x"})
    assert (800, "Europe/Paris", Settings.level) == (settings.largest_batch, str(settings.zone), settings.level)


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("LARGEST_BATCH", "many", "give a whole number"),
        ("LARGEST_BATCH", "0", "above 0"),
        ("LEVEL", "90", "between 0 and 1"),
        ("LEVEL", "nan", "between 0 and 1"),
        ("BREAK_COST", "dear", "give a number"),
        ("TIME_ZONE", "Mars/Olympus", "IANA name"),
        ("SCAN_PREFIX", "", "give one of !"),
        ("SCAN_PREFIX", "A", "cannot mark a scan"),
        ("TIME_ZONE", "../etc", "IANA name"),
        ("CURRENCY", "a whole sentence", "code or symbol"),
        ("CURRENCY", "€\t", "code or symbol"),
        ("IS_DEMO", "perhaps", "yes or no"),
        ("LANGUAGE", "tlh", "give one of en, es"),
        ("REGION", "Mexico", "two capitals"),
        ("UNITS", "cubits", "metric or inch"),
        ("HOSTS", "http://shop.example", "without http"),
        ("HOSTS", "shop.example:8000", "without http"),
        ("HOSTS", "shop.example, *", "without http"),
        ("HOSTS", "a..b", "without http"),
        ("METRICS_FROM", "192.168.1.20, monitor.shop.internal", "addresses or networks"),
        ("METRICS_FROM", "192.168.1.0/33", "addresses or networks"),
    ],
)
def test_wrong_values_are_named(name: str, value: str, told: str) -> None:
    """The message names the variable and what would be right."""
    with pytest.raises(InputError, match=f"SHOPFLOOR {name.replace('_', ' ')}.*{told}"):
        settings_from({f"SHOPFLOOR_{name}": value})


def test_a_cost_is_assumed_until_it_is_set() -> None:
    """So that pages can say which figures are the tool's and which the shop's."""
    assert ("change_cost", "break_cost", "wear_cost") == Settings().assumed_costs
    assert ("wear_cost",) == settings_from({"SHOPFLOOR_CHANGE_COST": "4", "SHOPFLOOR_BREAK_COST": "150"}).assumed_costs


def test_the_secret_key_is_made_once(tmp_path: Path) -> None:
    """Sessions outlive a restart."""
    settings = Settings(data_folder=tmp_path / "new")
    assert settings.secret_key() == settings.secret_key()
    assert 64 == len(settings.secret_key())


@pytest.mark.parametrize(
    ("given", "used"),
    [
        ("postgresql://tapping@db/shop", "postgresql://tapping:p%40ss%2Fw%20rd@db/shop"),
        ("postgresql://tapping:known@db/shop", "postgresql://tapping:known@db/shop"),
        ("postgresql:///shop", "postgresql:///shop"),
        ("sqlite:///shop@work.db", "sqlite:///shop@work.db"),
    ],
)
def test_a_password_from_a_file_is_for_a_user_without_one(tmp_path: Path, given: str, used: str) -> None:
    """It needs to stand in no environment and no list of processes; any character may be in it."""
    (tmp_path / "password").write_text("p@ss/w rd\n", encoding="utf-8")
    told = {"SHOPFLOOR_DATABASE": given, "SHOPFLOOR_DATABASE_PASSWORD_FILE": str(tmp_path / "password")}
    assert used == settings_from(told).database


def test_a_password_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    """By the variable, before anything is connected to."""
    told = {"SHOPFLOOR_DATABASE": "postgresql://tapping@db/shop", "SHOPFLOOR_DATABASE_PASSWORD_FILE": str(tmp_path)}
    with pytest.raises(InputError, match=r"SHOPFLOOR DATABASE PASSWORD FILE.* cannot be read"):
        settings_from(told)
