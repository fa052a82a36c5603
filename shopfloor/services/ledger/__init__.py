"""Taps and their movements."""
