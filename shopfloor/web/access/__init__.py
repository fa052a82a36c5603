"""Access: the first supervisor, PINs and passwords, enrolled tablets, log-in rules."""
