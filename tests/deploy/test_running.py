"""Units, container files, alarms and the operations page name what the program has."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import tomllib
from collections.abc import Iterator
from configparser import ConfigParser
from contextlib import suppress
from dataclasses import fields
from pathlib import Path

import click
import pytest
from prometheus_client import generate_latest
from prometheus_client.parser import text_string_to_metric_families

import environment
from shopfloor.cli import main
from shopfloor.cli.estimator_process import ENDS_S
from shopfloor.cli.server import DRAINING_S
from shopfloor.settings import PREFIX, Settings
from shopfloor.web.monitoring.metrics import Metrics

ROOT = environment.ROOT
DEPLOY = ROOT / "deploy"
UNITS = sorted((DEPLOY / "systemd").glob("*.service"))
COMPOSE = (DEPLOY / "container" / "compose.yaml").read_text(encoding="utf-8")
CONTAINER = (DEPLOY / "container" / "Containerfile").read_text(encoding="utf-8")
ALARMS = (DEPLOY / "prometheus" / "alarms.yaml").read_text(encoding="utf-8")
PAGE = (DEPLOY / "OPERATIONS.md").read_text(encoding="utf-8")
PROGRAM = "/opt/shopfloor/bin/shopfloor"


def unit(path: Path) -> ConfigParser:
    """A unit by its sections; it names no option twice."""
    read = ConfigParser(interpolation=None, delimiters=("=",), comment_prefixes=("#",))
    read.optionxform = str  # type: ignore[assignment, method-assign]
    read.read_string(path.read_text(encoding="utf-8"))
    return read


def services() -> dict[str, str]:
    """The lines of each service of the compose file, which is indented by two blanks."""
    inside = COMPOSE.split("\nservices:\n")[1].split("\nsecrets:\n")[0]
    parts = re.split(r"^  ([a-z-]+):\n", inside, flags=re.M)[1:]
    return dict(zip(parts[::2], parts[1::2], strict=True))


def arguments(service: str) -> list[str]:
    """The command of a service: a list in one line, or one argument a line."""
    inline = re.search(r"^    command: \[(.*)\]$", service, re.M)
    if inline is not None:
        return inline[1].split(", ")
    return re.findall(r"^      - (\S+)$", service.split("    command:\n")[1].split("\n    environment:")[0], re.M)


def commands() -> Iterator[list[str]]:
    """Each command of the tool in these files, without the tool's own name."""
    for path in UNITS:
        yield shlex.split(unit(path)["Service"]["ExecStart"])[1:]
    yield from (arguments(services()[name]) for name in ("server", "estimator"))
    yield re.findall(r'"(.*?)"', CONTAINER.split("\nCMD ")[1])
    yield from (shlex.split(words) for words in re.findall(r"shopfloor((?: [a-z]+)+ --[^`\n]*|(?: [a-z]+)+)`", PAGE))
    yield from (shlex.split(words) for words in re.findall(r"run --rm(?: --no-deps)? server ([^`\n]+)", PAGE))
    yield from (shlex.split(words) for words in re.findall(r'-Argument "(.*?)"', PAGE))


@pytest.mark.parametrize("words", list(commands()), ids=" ".join)
def test_each_command_can_be_given(words: list[str]) -> None:
    """The program takes its name and all its options; a sentence need not name what it is applied to."""
    command: click.Command | None = main
    while isinstance(command, click.Group):
        name, *words = words
        command = command.get_command(click.Context(command), name)
    assert command is not None
    with suppress(click.MissingParameter):
        assert command.make_context("shopfloor", words).params


def test_each_setting_is_one() -> None:
    """In every file that whoever runs the server reads or copies."""
    texts = [
        path.read_text(encoding="utf-8") for path in DEPLOY.rglob("*") if path.suffix in {".md", ".yaml", ".service"}
    ]
    named = set(re.findall(rf"{PREFIX}[A-Z_]*[A-Z]", "".join([*texts, CONTAINER])))
    assert (True, set()) == (len(named) > 5, named - {PREFIX + field.name.upper() for field in fields(Settings)})


@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
def test_a_unit_gains_no_rights(path: Path) -> None:
    """Its own user, no more rights than that, and nothing to write to but its own folders; it is begun again."""
    service = unit(path)["Service"]
    guards = {"NoNewPrivileges": "yes", "ProtectSystem": "strict", "ProtectHome": "yes", "CapabilityBoundingSet": ""}
    kept = {"User": "shopfloor", "StateDirectory": "shopfloor", "Restart": "on-failure", "KillSignal": "SIGTERM"}
    assert guards | kept == {name: service[name] for name in guards | kept}


def test_whoever_stops_the_server_waits_until_it_has_answered() -> None:
    """Accepted requests first, then an estimator beside it."""
    waited = re.findall(r"stop_grace_period: (\d+)s", services()["server"])
    waited.append(unit(DEPLOY / "systemd" / "shopfloor.service")["Service"]["TimeoutStopSec"])
    assert [True, True] == [int(seconds) > DRAINING_S + ENDS_S + 2 for seconds in waited]
    assert f"for at most {DRAINING_S} seconds" in PAGE


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd reads its units itself")
@pytest.mark.parametrize("path", UNITS, ids=lambda path: path.name)
def test_systemd_understands_the_unit(path: Path, tmp_path: Path) -> None:
    """All of them, since they name each other; another program stands in for the one that is not installed here."""
    for each in UNITS:
        text = each.read_text(encoding="utf-8").replace(PROGRAM, "/bin/true")
        (tmp_path / each.name).write_text(text, encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", str(tmp_path / path.name)],
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert (0, []) == (done.returncode, [line for line in done.stderr.splitlines() if path.name in line])


def test_the_image_holds_the_whole_program() -> None:
    """Each package of the wheel, and the locked versions; it does not run as root."""
    copied = [source for line in re.findall(r"^COPY (.*) \S+$", CONTAINER, re.M) for source in line.split()]
    packages = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]["targets"]
    assert set() == {*packages["wheel"]["packages"], "deploy/requirements.txt"} - set(copied)
    assert [] == [source for source in copied if not (ROOT / source).exists()]
    assert CONTAINER.index("\nUSER shopfloor\n") < CONTAINER.index("\nENTRYPOINT")


def test_no_password_stands_in_the_compose_file() -> None:
    """It comes from a file that is not in the repository; what a service uses is declared."""
    declared = set(re.findall(r"^  ([a-z-]+):", COMPOSE.split("\nsecrets:\n")[1], re.M))
    used = set(re.findall(r'secrets: \[([a-z-]+)\]|volumes: \["([a-z-]+):', COMPOSE))
    assert declared == {name for pair in used for name in pair if name}
    assert [] == re.findall(r"PASSWORD: .*|://\w+:\S+@", COMPOSE)
    assert "/deploy/container/secrets/\n" in (ROOT / ".gitignore").read_text(encoding="utf-8")


def figures() -> dict[str, set[str]]:
    """The names under which each figure is told; one that is counted by labels has none before the first request."""
    known = Metrics()
    known.requests.labels("crib.board", "GET", 200).inc()
    known.seconds.labels("crib.board").observe(0.1)
    families = text_string_to_metric_families(generate_latest(known.registry).decode())
    return {family.name: {sample.name for sample in family.samples} for family in families}


def test_each_figure_is_explained() -> None:
    """On the operations page, and no other is."""
    told = set(re.findall(r"^\| `(shopfloor_\w+)` \|", PAGE, re.M))
    assert told == {name if name != "shopfloor_requests" else f"{name}_total" for name in figures()}


def test_each_alarm_is_explained() -> None:
    """On the operations page, with what to do, and no other is."""
    told = re.findall(r"^\| `(Shopfloor\w+)` \| .+ \| .+ \|$", PAGE, re.M)
    assert told == re.findall(r"alert: (\w+)", ALARMS)


def test_alarms_look_at_figures_that_there_are() -> None:
    """By a name under which Prometheus has them."""
    named = set(re.findall(r"\bshopfloor_\w+", ALARMS))
    assert (True, set()) == (len(named) >= 4, named - set().union(*figures().values()))
