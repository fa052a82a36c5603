"""Set up everything that the tests need in this checkout and run them all.

    python3 deploy/test.py [--quick] [-- arguments for pytest]

Makes .venv-test in the checkout with the locked versions (the first time only), finds or installs the browsers, then
runs every check, also after one has failed, and ends with a summary. Exit code 0 means that all passed.

The checks that only read the source run one after the other beside the tests, which often wait for a browser or a
database; what they say is shown in one piece once the tests are through.
"""

import argparse
import os
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import check_python  # noqa: F401  (first: it stops an old Python with a plain message)
import chromium
import environment
import webkit
from environment import say

CORES = min(os.cpu_count() or 1, 8)
LINT_IMPORTS = "from importlinter.cli import lint_imports_command; lint_imports_command()"
CHECKS = {
    "Lint (ruff check)": ["-m", "ruff", "check", "."],
    "Format (ruff format --check)": ["-m", "ruff", "format", "--check", "."],
    "Types (mypy)": ["-m", "mypy"],
    "Import directions (import-linter)": ["-c", LINT_IMPORTS, "--no-cache"],
}
PYTEST = ["-m", "pytest", "-n", str(CORES), "--dist", "load"]
QUICK = ["-m", "not browser and not postgres"]


@dataclass(frozen=True)
class Outcome:
    """How one check went."""

    name: str
    passed: bool
    seconds: float

    def sentence(self) -> str:
        """The line of the summary."""
        return f"  {'passed' if self.passed else 'FAILED'}  {self.seconds:7.1f} s  {self.name}"


def body() -> int:
    """Set up, run every check, sum up."""
    wishes = read_arguments()
    started = time.monotonic()
    # Some build servers set it; each process that a test starts would compile anew what it loads, for 3 s.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    environment.ensure(environment.TEST)
    if not wishes.quick:
        chromium.ensure(environment.TEST)
        webkit.ensure(environment.TEST)
    outcomes = [Outcome("Set-up", True, time.monotonic() - started)]
    tests = PYTEST + (QUICK if wishes.quick else []) + wishes.arguments
    with ThreadPoolExecutor(max_workers=1) as beside:
        told = [beside.submit(listen, name, arguments) for name, arguments in CHECKS.items()]
        try:
            outcomes.append(run("Tests (pytest)", tests))
        except KeyboardInterrupt:
            beside.shutdown(cancel_futures=True)
            raise
        outcomes += [show(*one.result()) for one in told]
    say("\n== Summary ==\n" + "\n".join(outcome.sentence() for outcome in outcomes))
    return 0 if all(outcome.passed for outcome in outcomes) else 1


def read_arguments() -> argparse.Namespace:
    """The command line's arguments."""
    parser = argparse.ArgumentParser(description="Set up and pass all tests of shopfloor.")
    parser.add_argument("--quick", action="store_true", help="leave out the tests with a browser or PostgreSQL")
    parser.add_argument("arguments", nargs="*", metavar="-- ...", help="anything after -- goes to pytest")
    return parser.parse_args()


def run(name: str, arguments: list[str]) -> Outcome:
    """Run one check in the test environment under its own heading."""
    say(f"\n== {name} ==")
    started = time.monotonic()
    code = environment.call(command(arguments))
    outcome = Outcome(name, code == 0, time.monotonic() - started)
    say(outcome.sentence())
    return outcome


def listen(name: str, arguments: list[str]) -> tuple[Outcome, str]:
    """Run one check without a word; how it went and what it said."""
    started = time.monotonic()
    done = subprocess.run(
        command(arguments),
        cwd=environment.ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        check=False,
    )
    return Outcome(name, done.returncode == 0, time.monotonic() - started), done.stdout


def show(outcome: Outcome, said: str) -> Outcome:
    """Print what a check said while others ran."""
    say(f"\n== {outcome.name} ==\n{said.rstrip()}\n{outcome.sentence()}")
    return outcome


def command(arguments: list[str]) -> list[str]:
    """The Python of the test environment with these arguments."""
    return [str(environment.TEST.python), *arguments]


if __name__ == "__main__":
    environment.main(body)
