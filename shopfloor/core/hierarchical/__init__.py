"""One Bayesian model of all tap lives of a shop: what it assumes, how it is fitted, what it predicts."""
