"""JSON for tablets: hand in runs."""
