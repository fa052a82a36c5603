"""The life book: what the log says about tap lives, and when each tap is best changed."""
