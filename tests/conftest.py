"""One thread for the dense algebra: the matrices are small, and two threads get in each other's way."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import HealthCheck, settings

# The same examples in every run, so that a check that passes here passes there; `--hypothesis-profile=wild`
# draws new ones.
QUIET = [HealthCheck.too_slow, HealthCheck.filter_too_much]
settings.register_profile("wild", deadline=None, suppress_health_check=QUIET)
settings.register_profile(
    "check", deadline=None, derandomize=True, suppress_health_check=QUIET
)
settings.load_profile("check")
