"""Limits of what a request may hold."""

LARGEST_BODY = 1_000_000
"""Bytes of a request's body; a batch takes a few hundred."""
