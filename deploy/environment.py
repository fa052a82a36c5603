"""A virtual environment in the checkout that holds exactly the locked versions; standard library only."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import platform
import re
import shutil
import subprocess
import sys
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
STOPPED = 130
"""Exit code after Ctrl-C, by shell convention."""

ARRIVING = re.compile(r"^\s*(?:Collecting|Processing) .*\(line (\d+)\)")
"""How pip announces a package: with its line in the lock file."""
REQUIREMENT = re.compile(r"^([A-Za-z0-9._-]+)==([^\s;]+)")
ADVICE = {
    "DO NOT MATCH THE HASHES": "A package differs from the one that was locked. Nothing was installed from it. "
    "Empty pip's cache (python -m pip cache purge) and try again; if it stays, do not use that package source.",
    "No matching distribution": "The package source that pip uses lacks this version, or cannot be reached. "
    "Check the network and pip's configuration (python -m pip config list), then run the command again.",
    "NewConnectionError": "Check the network, then run the command again: what was fetched is kept by pip.",
    "No space left": "The disk is full. Free about 1.5 GB, then run the command again.",
    "error: subprocess-exited-with-error": "A package had to be built and could not be. Python 3.11, 3.12 or 3.13 on "
    "Linux, Windows or macOS (64 bit) finds ready-made packages for all but one that is pure Python.",
}
"""What to do about a failure, by words in pip's output; the first match counts."""


class SetupError(Exception):
    """Something that stops the set-up; the message says what failed and what to do."""


@dataclass(frozen=True)
class Environment:
    """One virtual environment of the checkout and the lock file that fills it."""

    folder: Path
    lock: Path

    @property
    def python(self) -> Path:
        """The environment's own Python."""
        return self.folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")

    @property
    def stamp(self) -> Path:
        """Written last: an environment without it is incomplete."""
        return self.folder / "shopfloor.json"

    def works(self) -> bool:
        """Whether its Python starts and finds the project (it does not if Python itself has been removed)."""
        command = [str(self.python), "-c", "import shopfloor"]
        try:
            return subprocess.run(command, cwd=self.folder, capture_output=True, check=False).returncode == 0
        except OSError:
            return False


RUNTIME = Environment(ROOT / ".venv", ROOT / "deploy" / "requirements.txt")
TEST = Environment(ROOT / ".venv-test", ROOT / "deploy" / "requirements-test.txt")


def say(text: str) -> None:
    """Print one line at once, also when the output goes to a file."""
    print(text, flush=True)


def main(body: Callable[[], int]) -> None:
    """Run a command of this folder: its exit code, a plain message for failures, silence after Ctrl-C."""
    try:
        sys.exit(body())
    except SetupError as error:
        sys.exit(f"\n{error}")
    except KeyboardInterrupt:
        say("\nStopped. Run the same command again to go on.")
        sys.exit(STOPPED)


def call(command: list[str]) -> int:
    """Exit code of a command run in the checkout; after Ctrl-C it may clean up after itself."""
    process = subprocess.Popen(command, cwd=ROOT)
    try:
        return process.wait()
    except KeyboardInterrupt:
        process.wait()
        raise


def ensure(environment: Environment) -> None:
    """Make the environment or bring it up to date; quick if nothing has changed."""
    wanted, found = fingerprint(environment), read_stamp(environment)
    if found.get("packages") != wanted["packages"] or not environment.works():
        remake(environment)
    elif found == wanted:
        return
    install_project(environment)
    environment.stamp.write_text(json.dumps(wanted, indent=1) + "\n", encoding="utf-8")


def fingerprint(environment: Environment) -> dict[str, str]:
    """What it depends on: a change of `packages` rebuilds it, one of `project` reinstalls the project."""
    interpreter = f"{sys.implementation.name} {platform.python_version()} {platform.machine()} {ROOT}"
    return {
        "packages": digest(interpreter.encode(), environment.lock.read_bytes()),
        "project": digest((ROOT / "pyproject.toml").read_bytes()),
    }


def digest(*parts: bytes) -> str:
    """A short digest of some bytes."""
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def read_stamp(environment: Environment) -> dict[str, str]:
    """What the environment was made from; empty if it is missing or incomplete."""
    try:
        found = json.loads(environment.stamp.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def remake(environment: Environment) -> None:
    """Make the environment from scratch and install the locked packages."""
    require_venv()
    say(f"Making {environment.folder.name} with Python {platform.python_version()}")
    remove(environment)
    made = subprocess.run([sys.executable, "-m", "venv", environment.folder], check=False)
    if made.returncode != 0:
        raise SetupError(f"Python could not make {environment.folder}; its own message is above.")
    say(f"Installing the packages listed in {environment.lock.relative_to(ROOT)}")
    install_lock(environment)


def require_venv() -> None:
    """Stop if Python lacks venv: some Linux distributions package it separately."""
    if any(importlib.util.find_spec(module) is None for module in ("venv", "ensurepip")):
        version = f"{sys.version_info.major}.{sys.version_info.minor}"
        raise SetupError(
            "This Python lacks the modules venv and ensurepip, which make virtual environments.\n"
            f"On Debian or Ubuntu: sudo apt install python3-venv (or python{version}-venv), then run the command again."
        )


def remove(environment: Environment) -> None:
    """Remove an environment that is broken, incomplete or out of date."""
    if Path(sys.prefix).resolve() == environment.folder.resolve():
        raise SetupError(f"{environment.folder} must be made anew but runs this command: deactivate it first.")
    try:
        if environment.folder.is_symlink():
            environment.folder.unlink()
        elif environment.folder.exists():
            shutil.rmtree(environment.folder)
    except OSError as error:
        raise SetupError(f"{environment.folder} cannot be removed ({error}): stop what runs from it first.") from error


def install_lock(environment: Environment) -> None:
    """Install the locked packages, each checked against its hash, with one line for each."""
    counter = Counter(environment.lock.read_text(encoding="utf-8").splitlines())
    pip(environment, ["--require-hashes", "--no-deps", "--no-compile", "-r", str(environment.lock)], counter.show)


def install_project(environment: Environment) -> None:
    """Install the checkout itself, editable, with the build tools of the lock."""
    say(f"Installing the project into {environment.folder.name}")
    pip(environment, ["--no-deps", "--no-build-isolation", "--editable", str(ROOT)], lambda line: None)


class Counter:
    """Turns what pip prints into one numbered line for each package."""

    def __init__(self, lock: list[str]) -> None:
        self.packages = {number: found for number, line in enumerate(lock, 1) if (found := REQUIREMENT.match(line))}
        self.total = len(self.packages)
        self.seen = 0

    def show(self, line: str) -> None:
        """Print what matters to a person in one line of pip's output."""
        if line.startswith("Ignoring "):
            self.total -= 1
        elif (arriving := ARRIVING.match(line)) and (package := self.packages.get(int(arriving[1]))):
            self.seen += 1
            say(f"  {self.seen:>3} of {self.total}  {package[1]} {package[2]}")
        elif line.startswith("Installing collected packages"):
            say("  all fetched and checked; unpacking them takes up to a minute")


def pip(environment: Environment, arguments: list[str], show: Callable[[str], None]) -> None:
    """Run pip's install in the environment and hand each line of its output to `show`."""
    command = [str(environment.python), "-m", "pip", "--disable-pip-version-check", "--no-input", "install", *arguments]
    surroundings = {**os.environ, "PIP_PROGRESS_BAR": "off", "PYTHONUNBUFFERED": "1", "PYTHONIOENCODING": "utf-8"}
    last: deque[str] = deque(maxlen=20)
    with subprocess.Popen(
        command, cwd=ROOT, env=surroundings, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT, encoding="utf-8", errors="replace",
    ) as process:  # fmt: skip
        try:
            for line in process.stdout or ():
                last.append(line)
                show(line)
        except KeyboardInterrupt:
            process.terminate()
            raise
    if process.returncode != 0:
        raise SetupError(failure("".join(last)))


def failure(output: str) -> str:
    """The end of pip's output and what to do about it."""
    advice = next((text for words, text in ADVICE.items() if words in output), "Run the same command again to retry.")
    return f"pip failed; the end of what it said:\n\n{output}\n{advice}"
