"""Every number that is tuned says what it does, why it is so, and what happens beside it."""

from __future__ import annotations

import re
from dataclasses import FrozenInstanceError, replace
from importlib import import_module
from pathlib import Path

import pytest

from chainplan.model.tuning import change_tuning, list_tuning

STAGES = ("weave", "join", "heat", "order", "estimate")


def tuning_of(stage):
    """The tuning that a stage uses unless told otherwise."""
    module = import_module(f"chainplan.{stage}.tuning")
    return module.USUAL if stage == "order" else module.tuning()


@pytest.mark.parametrize("stage", STAGES)
def test_every_number_has_its_reason(stage):
    """A number nobody can say the reason of cannot be changed with a good conscience."""
    numbers = list(list_tuning(tuning_of(stage)))
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
    used = "\n".join(path.read_text(encoding="utf-8") for path in Path(folder).rglob("*.py"))
    for info in list_tuning(tuning_of(stage)):
        name = info.name.rpartition(".")[2]
        assert re.search(rf"\.{name}\b", used), info.name


def test_a_number_of_a_room_is_changed_by_its_name():
    """What a benchmark tries is named as it is listed; all others stay."""
    usual = tuning_of("order")
    names = [info.name for info in list_tuning(usual)]
    assert len(names) == len(set(names)) > 100
    changed = change_tuning(usual, "search.usual.patterns", 7)
    assert changed.search.usual.patterns == 7
    assert change_tuning(changed, "search.usual.patterns", usual.search.usual.patterns) == usual
    with pytest.raises(TypeError):
        change_tuning(usual, "search.paterns", 7)


def test_another_tuning_holds_inside_its_block_only():
    """A benchmark that tries numbers must not leave them behind."""
    tuning = import_module("chainplan.estimate.tuning").tuning
    usual = tuning()
    with tuning.using(replace(usual, tacks=7)):
        assert tuning().tacks == 7
    assert tuning() is usual
    with pytest.raises(FrozenInstanceError):
        usual.tacks = 3
