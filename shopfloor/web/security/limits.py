"""Limits on what a request may contain."""

LARGEST_BODY = 1_000_000
"""Bytes of a request's body; a batch takes a few hundred."""
