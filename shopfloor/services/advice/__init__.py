"""The life book: what the log says of tap lives, and when each tap is best changed."""
