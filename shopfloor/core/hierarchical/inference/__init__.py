"""The posterior of the hierarchical model."""
