"""The words of the developers' page are kept: units in names, one meaning an ending."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import pkgutil
import re
from pathlib import Path
from typing import Any

import pytest

import chainplan.model

PAGE = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
ENDINGS = tuple(
    ending
    for cells in re.findall(r"^\| ((?:`_\w+`(?:, )?)+) \|", PAGE, flags=re.MULTILINE)
    for ending in re.findall(r"`(_\w+)`", cells)
)
PLAIN = {
    "actual",
    "amount",
    "approach",
    "arc_share",
    "asked",
    "aspect_ratio",
    "biot",
    "chance",
    "chance_in_time",
    "computed_rings_per_cm",
    "end_share",
    "fewer_risk",
    "high",
    "hours",
    "hours_per_day",
    "in_stock",
    "inner_diameter_change",
    "inner_ratio",
    "keeps_all",
    "kept",
    "largest_share",
    "late_weight",
    "left",
    "level",
    "likeness",
    "looseness",
    "lost_share",
    "low",
    "measured_rings_per_cm",
    "moved_chance",
    "needed",
    "new",
    "normal",
    "old",
    "other",
    "pace",
    "pace_high",
    "pace_low",
    "pack",
    "planned",
    "residual_gap",
    "rings_per_cm",
    "root_capacity",
    "second_approach",
    "seconds",
    "share",
    "short_risk_each",
    "shown_risk",
    "smallest_aspect_ratio",
    "source_share",
    "thickness",
    "to_buy",
    "turn_rad",
    "unpaused_kept",
    "usual",
    "vectors",
    "weld_hours",
    "weld_share",
    "width",
    "wire_ratio",
    "yield_share",
}
"""Numbers without a unit, whose unit stands in a field beside them, or whose name is the unit."""


def model_classes() -> list[Any]:
    """Every dataclass of the model, bench settings apart: those carry their unit beside them."""
    modules = (
        importlib.import_module(module.name)
        for module in pkgutil.walk_packages(chainplan.model.__path__, "chainplan.model.")
        if ".bench" not in module.name
    )
    found = {
        name: item
        for module in modules
        for name, item in vars(module).items()
        if dataclasses.is_dataclass(item) and item.__module__ == module.__name__
    }
    return [found[name] for name in sorted(found)]


def test_the_page_names_its_endings() -> None:
    """If the table moves, the test below would pass by testing nothing."""
    assert {"_mm", "_g", "_s", "_c", "_j", "_rad"} <= set(ENDINGS)
    assert len(model_classes()) > 30


@pytest.mark.parametrize("cls", model_classes(), ids=lambda cls: cls.__name__)
def test_a_float_of_the_model_carries_its_unit(cls: Any) -> None:
    """A length without a unit has cost more than one spacecraft."""
    for item in dataclasses.fields(cls):
        if str(item.type).removesuffix(" | None") in ("float", "FloatArray"):
            known = item.name.endswith(ENDINGS) or item.name in PLAIN or cls.__name__ == "Repeat"
            assert known, f"{cls.__name__}.{item.name} needs a unit"


def test_no_class_name_means_two_things() -> None:
    """Whoever meets a name knows which class is meant, wherever it is read."""
    homes: dict[str, list[str]] = {}
    for path in sorted(Path(chainplan.__file__).parent.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(path.as_posix())
    assert {name: paths for name, paths in homes.items() if len(paths) > 1} == {}
