"""Rows of the record as values of the core."""
