"""Groups of tap lives that lean on each other: one posterior over all conditions, and what follows from it."""
