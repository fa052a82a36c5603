"""What a tablet remembers."""
