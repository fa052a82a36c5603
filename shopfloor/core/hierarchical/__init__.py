"""One Bayesian model of all the tap lives of a shop: its assumptions, how it is fitted, what it predicts."""
