"""Who gets in: the first supervisor, PINs and passwords, enrolled tablets, the rules of a log-in."""
