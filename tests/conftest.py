"""Session fixtures named for what they are, and the pinned Hypothesis profile."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib
import pytest
from hypothesis import HealthCheck, settings

import chainplan

if TYPE_CHECKING:
    from chainplan.model.plan import Plan

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


@pytest.fixture(scope="session")
def samples() -> Path:
    """The folder of invented sample jobs."""
    return Path(__file__).parents[1] / "samples"


@pytest.fixture(scope="session")
def necklace_plan(samples: Path) -> Plan:
    """The plan of the sample necklace, made once."""
    return chainplan.make_plan(chainplan.read_job(samples / "necklace.xlsx"))


@pytest.fixture(scope="session")
def fair_plan(samples: Path) -> Plan:
    """The plan of the sample batch for a craft fair, made once."""
    return chainplan.make_plan(chainplan.read_job(samples / "craft-fair.xlsx"))
