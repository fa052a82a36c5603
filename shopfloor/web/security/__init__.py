"""Who may ask for what, and what a request may bring."""
