"""Backups of a whole shop and what brings them back: database, photographs and secret key in one file."""
