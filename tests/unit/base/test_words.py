"""The words of the developers' page are kept: units in names, one meaning an ending."""

from __future__ import annotations

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
    "aspect_ratio", "smallest_aspect_ratio", "looseness", "inner_diameter_change", "wire_ratio",
    "inner_ratio", "residual_gap", "width", "thickness", "turn_rad", "low", "usual", "high",
    "biot", "amount", "pack", "needed", "in_stock", "to_buy", "left", "shown_risk", "fewer_risk",
    "lost_share", "chance_in_time", "weld_share", "short_risk_each", "rings_per_cm",
    "computed_rings_per_cm", "end_share", "hours_per_day",
    "measured_rings_per_cm", "approach", "second_approach", "normal", "seconds", "hours",
    "vectors", "root_capacity",
    "weld_hours", "pace", "pace_low", "pace_high", "old", "new", "level", "yield_share", "planned",
    "actual",
}  # fmt: skip
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
