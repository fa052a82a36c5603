"""How the hierarchical model is fitted: posterior maximum, variational mean, marginal likelihood."""
