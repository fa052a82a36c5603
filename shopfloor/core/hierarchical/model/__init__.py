"""What the hierarchical model assumes: conditions, priors, likelihood."""
