"""The way of the data is one way: the contracts of pyproject.toml on who imports whom hold."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).parents[1]
HEAVY = "numpy scipy pandas networkx matplotlib openpyxl threadpoolctl"
WRONG = """
[importlinter]
root_package = chainplan
[importlinter:contract:1]
name = plan, which imports its stages in functions, knows no weaves
type = forbidden
source_modules = chainplan.public.plan
forbidden_modules = chainplan.weave
"""


def test_every_contract_on_imports_is_kept(capsys: pytest.CaptureFixture[str]) -> None:
    """Imports in functions and for types count too."""
    status = lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
    assert status == 0, capsys.readouterr().out


def test_the_import_check_sees_a_wrong_import(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A check that cannot fail is worth nothing."""
    (tmp_path / "wrong.ini").write_text(WRONG)
    assert lint_imports(config_filename=str(tmp_path / "wrong.ini"), no_cache=True) != 0
    assert "chainplan.public.jobs -> chainplan.weave" in capsys.readouterr().out


def test_every_folder_of_the_package_is_seen() -> None:
    """A folder without ``__init__.py`` would be passed over in silence."""
    folders = {path.parent for path in (ROOT / "chainplan").rglob("*.py")}
    assert [folder for folder in folders if not (folder / "__init__.py").is_file()] == []


@pytest.mark.parametrize(
    "code",
    [
        "import chainplan.cli.parser; chainplan.cli.parser.build_parser()",
        "from chainplan import read_job, make_plan, write_plan",
        "import chainplan.writing, chainplan.progress_line, chainplan.units",
    ],
)
def test_importing_chainplan_loads_nothing_heavy(code: str) -> None:
    """The help text must come as fast as the language allows."""
    check = f"{code}\nimport sys\nprint([m for m in {HEAVY!r}.split() if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
