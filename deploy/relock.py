"""Relock the versions after a change of dependencies in pyproject.toml; for developers, needs `uv`.

    python3 deploy/relock.py [--upgrade]

Keeps every locked version that still fits, or with --upgrade takes the newest. Writes deploy/requirements-test.txt
(everything), then deploy/requirements.txt (what the tool itself needs, at the same versions), for all of Python 3.11
and newer on Linux, Windows and macOS, with the hash of each file and without naming any package index.
"""

import shutil
import subprocess
import sys

import check_python  # noqa: F401  (first: it stops an old Python with a plain message)
import environment
from environment import ROOT, RUNTIME, TEST, SetupError, say

COMPILE = [
    "pip", "compile", "--quiet", "--universal", "--python-version", "3.11", "--generate-hashes", "--no-header",
    "--no-annotate", "--no-emit-index-url", "--no-emit-find-links", "--group", "lock", "pyproject.toml",
]  # fmt: skip


def body() -> int:
    """Compile both lock files."""
    if shutil.which("uv") is None:
        raise SetupError("This needs uv on the path (python -m pip install uv).")
    compile_lock("--group", "test", "--output-file", name(TEST), *sys.argv[1:])
    compile_lock("--constraint", name(TEST), "--output-file", name(RUNTIME), *sys.argv[1:])
    return 0


def name(locked: environment.Environment) -> str:
    """The lock file's path from the top of the checkout."""
    return locked.lock.relative_to(ROOT).as_posix()


def compile_lock(*arguments: str) -> None:
    """Run one compilation."""
    say("uv " + " ".join([*COMPILE, *arguments]))
    if subprocess.run(["uv", *COMPILE, *arguments], cwd=ROOT, check=False).returncode != 0:
        raise SetupError("uv could not find versions that fit together; its own message is above.")


if __name__ == "__main__":
    environment.main(body)
