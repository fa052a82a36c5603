"""The pure core: threads, cutting, tap life, rates and stock arithmetic.

Nothing in here knows of Flask, a database or a data frame; see `shopfloor.core.weibull` for the life statistics,
`shopfloor.core.lives` for the way from logged runs to observations.
"""
