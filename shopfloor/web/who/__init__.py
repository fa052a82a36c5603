"""Logging in: name tiles and PIN on an enrolled tablet, a password elsewhere."""
