"""Every number that is tuned says what it does, why it is so, and what happens beside it."""

from __future__ import annotations

import re
from dataclasses import FrozenInstanceError, fields, replace
from importlib import import_module
from pathlib import Path

import pytest

from chainplan.model.tuning import list_tuning

STAGES = ("weave", "join", "heat", "estimate")


def tuning_of(stage):
    """The tuning that a stage uses."""
    return import_module(f"chainplan.{stage}.tuning").tuning


@pytest.mark.parametrize("stage", STAGES)
def test_every_number_has_its_reason(stage):
    """A number nobody can say the reason of cannot be changed with a good conscience."""
    numbers = list(list_tuning(tuning_of(stage)()))
    assert numbers
    for info in numbers:
        assert re.match(r"(measured|judgement): \S", info.chosen), info.name
        assert info.means.endswith((".", "]")), info.name
        assert info.less, info.name
        assert info.more, info.name


@pytest.mark.parametrize("stage", STAGES)
def test_every_number_is_used(stage):
    """A number that nothing reads is a leftover."""
    package = import_module(f"chainplan.{stage}")
    folder = package.__path__[0]
    used = "\n".join(
        path.read_text(encoding="utf-8")
        for path in Path(folder).rglob("*.py")
        if path.name != "tuning.py"
    )
    for item in fields(tuning_of(stage)()):
        assert re.search(rf"tun(ing\(\)|ed)\.{item.name}\b", used), item.name


def test_another_tuning_holds_inside_its_block_only():
    """A benchmark that tries numbers must not leave them behind."""
    tuning = tuning_of("estimate")
    usual = tuning()
    with tuning.using(replace(usual, tacks=7)):
        assert tuning().tacks == 7
    assert tuning() is usual
    with pytest.raises(FrozenInstanceError):
        usual.tacks = 3
