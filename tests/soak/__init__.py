"""Long tests, which are no part of the ordinary run: `python -m tests.soak.NAME` prints figures."""
