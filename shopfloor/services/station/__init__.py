"""What an operator needs at a station."""
