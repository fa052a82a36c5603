"""When an environment is made anew, and what a person is told."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

import environment
from environment import Environment, SetupError

LOCK = "numpy==2.4.6 ; python_full_version < '3.12' \\\n    --hash=sha256:00\nsix==1.17.0 \\\n    --hash=sha256:01\n"


class Made:
    """An environment in a temporary folder whose slow steps are only written down."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.steps: list[str] = []
        self.answers = True
        lock = folder / "requirements.txt"
        lock.write_text(LOCK, encoding="utf-8")
        (folder / "pyproject.toml").write_text("[project]\n", encoding="utf-8")
        (folder / "venv").mkdir()
        self.environment = Environment(folder / "venv", lock)
        monkeypatch.setattr(environment, "ROOT", folder)
        monkeypatch.setattr(Environment, "works", lambda _: self.answers)
        monkeypatch.setattr(environment, "remake", lambda _: self.steps.append("remake"))
        monkeypatch.setattr(environment, "install_project", lambda _: self.steps.append("project"))

    def ensure(self) -> list[str]:
        """The steps that one run of the set-up takes."""
        self.steps.clear()
        environment.ensure(self.environment)
        return list(self.steps)


@pytest.fixture
def made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Made:
    """An environment that was set up once."""
    made = Made(tmp_path, monkeypatch)
    assert ["remake", "project"] == made.ensure()
    return made


def test_the_second_time_does_nothing(made: Made) -> None:
    """Nothing changed, nothing to do."""
    assert [] == made.ensure()


def test_another_lock_makes_it_anew(made: Made) -> None:
    """No package of an older lock stays behind."""
    made.environment.lock.write_text(LOCK.replace("1.17.0", "1.17.1"), encoding="utf-8")
    assert ["remake", "project"] == made.ensure()


def test_other_settings_of_the_project_install_only_the_project(made: Made, tmp_path: Path) -> None:
    """A change of pyproject.toml costs seconds."""
    (tmp_path / "pyproject.toml").write_text("[project]\nname = 'other'\n", encoding="utf-8")
    assert ["project"] == made.ensure()
    assert [] == made.ensure()


def test_a_python_that_does_not_answer_makes_it_anew(made: Made) -> None:
    """An environment whose Python was removed is replaced."""
    made.answers = False
    assert ["remake", "project"] == made.ensure()


@pytest.mark.parametrize("stamp", ["", "{", "[]", json.dumps({"packages": "other"})])
def test_a_half_made_environment_is_made_anew(made: Made, stamp: str) -> None:
    """Only a whole stamp, written last, counts."""
    made.environment.stamp.write_text(stamp, encoding="utf-8")
    assert ["remake", "project"] == made.ensure()


def test_each_package_is_one_numbered_line(capsys: pytest.CaptureFixture[str]) -> None:
    """Progress shows in the same way for what is fetched and for what lies on the disk already."""
    counter = environment.Counter(LOCK.splitlines())
    for line in (
        "Ignoring tzdata: markers 'sys_platform == \"win32\"' don't match your environment",
        "Collecting numpy==2.4.6 (from -r deploy/requirements.txt (line 1))",
        "  Downloading numpy-2.4.6-cp311-cp311-win_amd64.whl (12.6 MB)",
        "Processing /wheels/six-1.17.0-py2.py3-none-any.whl (from -r deploy/requirements.txt (line 3))",
    ):
        counter.show(line)
    assert ["1 of 1  numpy 2.4.6", "2 of 1  six 1.17.0"] == [
        line.strip() for line in capsys.readouterr().out.splitlines()
    ]


@pytest.mark.parametrize(
    ("said", "advice"),
    [
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "differs from the one"),
        ("ERROR: No matching distribution found for numpy==2.4.6", "Check the network"),
        ("OSError: [Errno 28] No space left on device", "Free about"),
        ("ERROR: something new", "Run the same command again"),
    ],
)
def test_a_failure_of_pip_comes_with_what_to_do(said: str, advice: str) -> None:
    """What pip said stays, and the next step follows."""
    assert said in environment.failure(said)
    assert advice in environment.failure(said)


def test_a_python_without_venv_is_told_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The package of Debian and Ubuntu is named."""
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    with pytest.raises(SetupError, match="sudo apt install python3-venv"):
        environment.require_venv()


def test_an_environment_does_not_remove_itself(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The Python that runs the set-up is not deleted under its feet."""
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    with pytest.raises(SetupError, match="deactivate"):
        environment.remove(Environment(tmp_path, tmp_path / "requirements.txt"))
    assert tmp_path.exists()


def test_a_broken_environment_is_removed(tmp_path: Path) -> None:
    """Whatever is left of it goes."""
    (tmp_path / "venv" / "bin").mkdir(parents=True)
    environment.remove(Environment(tmp_path / "venv", tmp_path / "requirements.txt"))
    assert not (tmp_path / "venv").exists()


def stopped() -> int:
    """A set-up in which somebody presses Ctrl-C."""
    raise KeyboardInterrupt


def failed() -> int:
    """A set-up that cannot go on."""
    raise SetupError("no disk")


@pytest.mark.parametrize(("body", "code"), [(lambda: 0, 0), (lambda: 3, 3), (stopped, 130), (failed, "\nno disk")])
def test_a_command_ends_with_the_code_of_what_it_ran(body: object, code: object) -> None:
    """Exit codes pass through; a sentence in place of a code is printed and becomes 1."""
    with pytest.raises(SystemExit) as end:
        environment.main(body)  # type: ignore[arg-type]
    assert code == end.value.code
