"""Whether and when to change a tap."""
