"""What the hierarchical model predicts: draws of life distributions, and the effect of cutting slips."""
