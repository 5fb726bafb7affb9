"""Session fixtures named for what they are, and the pinned Hypothesis profile."""

from __future__ import annotations

import matplotlib
from hypothesis import HealthCheck, settings

matplotlib.use("Agg")

settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("explore", derandomize=False, deadline=None, max_examples=1000)
settings.load_profile("ci")
