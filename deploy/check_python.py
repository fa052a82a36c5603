"""Refuses a Python that is too old. Written in old Python's syntax, so that an old Python can run it and say so."""

import sys

if sys.version_info < (3, 11):
    sys.exit(
        "shopfloor needs Python 3.11 or newer, and this is Python %d.%d (%s).\n"
        "Start the command with a newer one, for example: python3.11 %s"
        % (sys.version_info[0], sys.version_info[1], sys.executable, sys.argv[0])
    )
