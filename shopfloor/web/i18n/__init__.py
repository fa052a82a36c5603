"""Texts, numbers and quantities in the reader's language and units."""
