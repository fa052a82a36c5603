"""`python -m shopfloor` is the command line."""

from shopfloor.cli import main

main(prog_name="shopfloor")
