"""The tool crib's board."""
