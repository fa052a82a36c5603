"""Set up shopfloor in this checkout and open it on a lively demo.

    python3 deploy/demo.py [--port N] [other options of `shopfloor demo`]

Makes .venv in the checkout with the locked versions (the first time only), then hands over to `shopfloor demo`, which
runs in the checkout: its files are in the folder instance there, wherever this was started.
"""

import os
import sys

import check_python  # noqa: F401  (first: it stops an old Python with a plain message)
import environment


def body() -> int:
    """Set up, then hand over to the demo server."""
    environment.ensure(environment.RUNTIME)
    return hand_over([str(environment.RUNTIME.python), "-m", "shopfloor", "demo", *sys.argv[1:]])


def hand_over(command: list[str]) -> int:
    """Become the command, so that signals reach it; on systems without exec, run it and pass on its exit code."""
    if os.name == "posix":
        os.chdir(environment.ROOT)
        os.execv(command[0], command)
    return environment.call(command)


if __name__ == "__main__":
    environment.main(body)
