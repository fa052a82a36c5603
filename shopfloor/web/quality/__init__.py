"""The quality lead's board."""
