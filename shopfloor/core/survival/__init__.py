"""Lifetimes and rates: censored data, the Weibull distribution, non-parametric estimates."""
