"""The JSON interface for tablets and programs."""
