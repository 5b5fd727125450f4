"""One thread for the dense algebra: the matrices are small, and two threads get in each other's way."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import HealthCheck, settings

settings.register_profile(
    "check", deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
settings.load_profile("check")
