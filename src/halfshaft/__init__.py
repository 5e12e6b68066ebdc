"""The engineering bench of a small shop that converts old cars to electric drive."""

import os

# The matrices here are small: more BLAS threads than one cost more than they gain. Read by the library when it loads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
