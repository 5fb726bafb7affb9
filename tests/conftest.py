"""Session fixtures named for what they are, and the pinned Hypothesis profile."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib
import pytest
import scipy.linalg  # noqa: F401 - so that its library of linear algebra is limited too
from hypothesis import HealthCheck, settings
from threadpoolctl import threadpool_limits

import chainplan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from chainplan.model.plan import Plan

matplotlib.use("Agg")
# Nothing of a test is kept in, or taken from, the user's own cache folder.
os.environ["CHAINPLAN_CACHE"] = tempfile.mkdtemp(prefix="chainplan-tests-")
# Tests of the stages call them without the public functions, which set this limit themselves.
threadpool_limits(1, user_api="blas")

settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=60,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("explore", derandomize=False, deadline=None, max_examples=1000)
settings.load_profile("ci")


collect_ignore = ["make_all.py"]
"""A script that imports the scripts beside it: it holds no example to be run."""


@pytest.fixture(scope="session", autouse=True)
def _no_idle_workers() -> Iterator[None]:
    """End the workers that wait for more tasks when the tests are over."""
    yield
    machine = sys.modules.get("chainplan.workers.machine")
    if machine is not None:
        machine.send_home_here()


@pytest.fixture(scope="session")
def samples() -> Path:
    """The folder of invented sample jobs."""
    return Path(__file__).parents[1] / "samples"


@pytest.fixture(scope="session")
def remake() -> str:
    """What to do when something derived is not what it is derived from."""
    return "out of date: run python tests/make_all.py"


@pytest.fixture(scope="session")
def necklace_plan(samples: Path) -> Plan:
    """The plan of the sample necklace, made once."""
    return chainplan.make_plan(chainplan.read_job(samples / "necklace.xlsx"))


@pytest.fixture(scope="session")
def fair_plan(samples: Path) -> Plan:
    """The plan of the sample batch for a craft fair, made once."""
    return chainplan.make_plan(chainplan.read_job(samples / "craft-fair.xlsx"))


def need_program(name: str) -> str:
    """Return a program's path; without it a user's run skips and a check run fails."""
    found = shutil.which(name)
    if found is None:
        message = f"{name} is not installed"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    return found


@pytest.fixture(scope="session")
def recalculate_all(
    tmp_path_factory: pytest.TempPathFactory,
) -> Callable[[Sequence[Path]], list[Path]]:
    """Open workbooks in an office program, recalculate them, and give back the saved copies.

    Their names must differ. One start of the program for several of them saves most of the time.
    """

    def run(paths: Sequence[Path]) -> list[Path]:
        office = need_program("soffice")
        folder = tmp_path_factory.mktemp("recalculated")
        profile = tmp_path_factory.getbasetemp() / "office-profile"
        subprocess.run(
            [
                office, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--convert-to",
                "xlsx:Calc MS Excel 2007 XML", "--outdir", str(folder), *map(str, paths),
            ],
            check=True, capture_output=True, timeout=180,
        )  # fmt: skip
        return [folder / path.name for path in paths]

    return run


@pytest.fixture(scope="session")
def recalculate(
    recalculate_all: Callable[[Sequence[Path]], list[Path]],
) -> Callable[[Path], Path]:
    """Recalculate one workbook in an office program and give back the saved copy."""
    return lambda path: recalculate_all([path])[0]
