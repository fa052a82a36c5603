"""Fields and forms."""
