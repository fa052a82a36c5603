"""Start page, health, what is new."""
