"""Charts, drawings and codes."""
