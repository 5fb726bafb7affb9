"""Reference data are read by every command, so they must not drag a heavy library along."""

import subprocess
import sys

import pytest


@pytest.mark.parametrize(
    ("code", "forbidden"),
    [
        (
            "import chainplan.reference as r; r.find_metal('copper'); r.parts(); r.cautions()",
            ("numpy", "scipy", "pandas"),
        ),
        (
            "from chainplan.estimate import ring_mass_g; ring_mass_g(1.0, 4.0, 10.0)",
            ("numpy", "scipy", "pandas"),
        ),
        ("from chainplan.estimate import estimate_job", ("scipy", "pandas", "matplotlib")),
    ],
)
def test_importing_loads_no_heavy_library(code, forbidden):
    check = f"{code}; import sys; print([name for name in {forbidden!r} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"
