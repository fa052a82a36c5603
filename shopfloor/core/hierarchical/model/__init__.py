"""What the hierarchical model assumes: conditions, priors and likelihood."""
