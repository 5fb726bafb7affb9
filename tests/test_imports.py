"""The way of the data is one way: the stages do not know each other."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import chainplan

PACKAGE = Path(chainplan.__file__).parent
BASE = {"arrays", "errors", "units", "model", "reference"}
STAGES = {"job", "weave", "join", "heat", "order", "estimate"}
EXAMINE = {"examine"}
MAY_IMPORT: dict[str, set[str]] = {
    "arrays": set(),
    "errors": set(),
    "units": {"errors"},
    "folder": {"errors"},
    "progress": set(),
    "model": {"arrays", "errors", "units", "model"},
    "reference": {"arrays", "errors", "units", "model"},
    **dict.fromkeys(STAGES, BASE),
    # The examiner knows the files as they are written and nothing of how they were made.
    "examine": {"arrays", "errors", "units"},
    "report": BASE | {"folder"},
    "counting": BASE | STAGES | {"report"},
    "comparing": BASE | STAGES | {"counting", "plan", "report"},
    "plan": BASE | STAGES | EXAMINE | {"counting", "report", "folder"},
    "cli": BASE | {"plan", "report", "folder", "progress"},
    "__init__": BASE | {"comparing", "counting", "plan"},
    "__main__": {"cli"},
}


def imported_parts(source: str, part: str) -> set[str]:
    """Parts of chainplan that a module of ``part`` imports, at run time or for types."""
    used = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom):
            if node.level:
                used.add("a relative import")
            elif node.module == "chainplan":
                used.update(alias.name for alias in node.names)
            elif (node.module or "").startswith("chainplan."):
                used.add(str(node.module).split(".")[1])
        elif isinstance(node, ast.Import):
            used.update(a.name.split(".")[1] for a in node.names if a.name.startswith("chainplan."))
    return used - {part, "__version__"}


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_a_module_imports_only_what_its_part_may(path: Path) -> None:
    """Stages take each other's frozen results from chainplan.model and never call each other."""
    part = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    assert part in MAY_IMPORT, f"say in this test what {part} may import"
    assert imported_parts(path.read_text(encoding="utf-8"), part) <= MAY_IMPORT[part]


def test_the_import_check_sees_a_wrong_import() -> None:
    """A check that cannot fail is worth nothing."""
    wrong = "from chainplan.order.passes import find_passes\nimport chainplan.heat"
    assert imported_parts(wrong, "join") == {"order", "heat"}
    assert imported_parts("from . import other", "join") == {"a relative import"}


def test_importing_chainplan_loads_nothing_heavy() -> None:
    """The help text must come as fast as the language allows."""
    import subprocess
    import sys

    heavy = "numpy scipy pandas networkx matplotlib openpyxl"
    code = (
        "import sys, chainplan, chainplan.cli; chainplan.cli.build_parser();"
        f"print([m for m in '{heavy}'.split() if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
