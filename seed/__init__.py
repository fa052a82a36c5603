"""The demo scenario: an invented shop, generated with a known truth."""
