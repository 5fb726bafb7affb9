"""What an earlier plan made again has kept of the first plan is read as what it must be."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from chainplan.errors import InputError
from chainplan.public.replanning.spent import first_plan

if TYPE_CHECKING:
    from pathlib import Path

KEPT = {
    "cost": "100.00", "currency": "EUR", "minutes": {"weld": 12.5}, "metal_g": {"copper": 3.25},
    "metal_money": {"copper": "1.50"}, "labour": "40.00", "labour_per_hour": "30.00",
    "ready": "2027-01-11",
}  # fmt: skip


def written(folder: Path, first: dict[str, Any]) -> Path:
    content = json.dumps({"stamp": {"program": "chainplan"}, "replan": {"first": first}})
    (folder / "plan.json").write_text(content, encoding="utf-8")
    return folder


@pytest.mark.parametrize("ready", ["2027-01-11", None])
def test_what_was_kept_comes_back_as_it_was(tmp_path: Path, ready: str | None) -> None:
    kept = {**KEPT, "ready": ready}
    assert first_plan(written(tmp_path, kept)) == kept


@pytest.mark.parametrize(
    ("name", "odd"),
    [
        ("cost", "x"), ("cost", None), ("minutes", {"weld": None}), ("minutes", {"weld": "x"}),
        ("minutes", []), ("metal_g", {"copper": "much"}), ("metal_money", {"copper": []}),
        ("labour", {}), ("labour_per_hour", "x"), ("ready", "soon"), ("ready", 7),
    ],
)  # fmt: skip
def test_what_is_odd_in_it_is_told_as_damage_of_the_plan(
    tmp_path: Path, name: str, odd: object
) -> None:
    with pytest.raises(InputError, match="its plan cannot be read"):
        first_plan(written(tmp_path, {**KEPT, name: odd}))


@pytest.mark.parametrize("name", KEPT)
def test_what_is_missing_in_it_is_told_too(tmp_path: Path, name: str) -> None:
    left = {key: value for key, value in KEPT.items() if key != name}
    with pytest.raises(InputError, match="its plan cannot be read"):
        first_plan(written(tmp_path, left))
