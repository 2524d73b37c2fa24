"""Every check, benchmark and calibration. The package comes first: numpy reads only once how many threads to take."""

import pipelines  # noqa: F401
