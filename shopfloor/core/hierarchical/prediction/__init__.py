"""What the posterior predicts: draws of distributions, the weight of slips."""
