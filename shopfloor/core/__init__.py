"""The pure core: threads, cutting, tap life, rates and stock arithmetic.

Nothing in here knows of Flask, a database or a data frame; see `shopfloor.core.survival` for lifetimes,
`shopfloor.core.floor.tap_lives` for the way from logged runs to observations.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
"""The matrices of the life statistics are small: threads only wait for each other, and where others use the machine too
a posterior of 53 groups took 12 s instead of 0.4 s. Has effect where numpy was not imported before."""
