"""Weibull distributions fitted by maximum likelihood to one group of lives or to many."""
