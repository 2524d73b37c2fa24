"""Everything of stickfleet without a screen: logs → facts → estimates → decisions → answers."""

import os

# The systems that are solved here are small: more threads only wait for each other, at up to ten times the CPU.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
