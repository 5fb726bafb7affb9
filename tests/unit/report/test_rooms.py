"""The rooms of the report import one way, and no two modules import each other."""

from __future__ import annotations

import ast
from pathlib import Path

import networkx as nx
import pytest

import chainplan.report

FOLDER = Path(chainplan.report.__file__).parent
MAY_IMPORT: dict[str, set[str]] = {
    "paper": set(),
    "text": set(),
    "wire": {"paper"},
    "charts": {"paper"},
    "diagram": {"paper", "text", "wire"},
    "bench_sheet": {"diagram", "text"},
    "workbook": {"paper", "text", "wire"},
    "quote": {"paper", "text", "wire"},
    "week": {"paper", "text"},
}
"""Rooms of the report that a room may import, at run time, for types and within functions."""
KNOWN_TO_PAPER = {"chainplan.arrays", "chainplan.frozen"}
"""All else of the package that a list of marks in mm may know: no plan, no metal."""


def imported_modules(source: str) -> set[str]:
    """Modules of the package that a source imports."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("chainplan"):
            found |= {f"{node.module}.{alias.name}" for alias in node.names} | {str(node.module)}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.startswith("chainplan")}
    return found


def room_of(module: str) -> str:
    """Room of a module of the report, or nothing."""
    parts = module.split(".")
    return parts[2] if parts[:2] == ["chainplan", "report"] and len(parts) > 2 else ""


@pytest.mark.parametrize("room", sorted(path.name for path in FOLDER.iterdir() if path.is_dir()
                                        and (path / "__init__.py").exists()))  # fmt: skip
def test_a_room_imports_only_the_rooms_below_it(room: str) -> None:
    """Paper knows no wire, wire no diagram, text no drawing."""
    for path in sorted((FOLDER / room).rglob("*.py")):
        used = imported_modules(path.read_text(encoding="utf-8"))
        rooms = {room_of(module) for module in used} - {room, ""}
        assert rooms <= MAY_IMPORT[room], path.name
        if room == "paper":
            outside = {module for module in used if not room_of(module)} - {"chainplan.report"}
            assert {".".join(module.split(".")[:2]) for module in outside} <= KNOWN_TO_PAPER


def test_no_modules_of_the_report_import_each_other_in_a_circle() -> None:
    """Imports within functions count: a circle stays a circle."""
    graph = nx.DiGraph()
    for path in FOLDER.rglob("*.py"):
        parts = ["chainplan", "report", *path.relative_to(FOLDER).with_suffix("").parts]
        name = ".".join(parts).removesuffix(".__init__")
        graph.add_edges_from((name, used) for used in imported_modules(path.read_text("utf-8")))
    modules = {name for name in graph if graph.out_degree(name)}
    assert list(nx.simple_cycles(graph.subgraph(modules))) == []


def test_no_two_class_names_of_the_report_are_alike() -> None:
    """One word for one thing."""
    names = [
        node.name
        for path in FOLDER.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
    ]
    assert sorted(set(names)) == sorted(names)


def test_the_import_check_sees_a_wrong_import() -> None:
    """A check that cannot fail is worth nothing."""
    wrong = "def f():\n    from chainplan.report.wire.arcs import Rings\n    import chainplan.model"
    assert {room_of(module) for module in imported_modules(wrong)} == {"wire", ""}
