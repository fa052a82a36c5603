"""Who may request what, and what a request may contain."""
