"""Every number that was chosen says why."""

from __future__ import annotations

import ast
from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

from chainplan.order import tuning

REASONS = ("Measured", "Judgement", "Set by", "A test holds", "rounding only")
SOURCE = Path(tuning.__file__).read_text(encoding="utf-8")


def documented(source):
    """Each field of each class of a module, with the string below it."""
    for owner in ast.parse(source).body:
        if isinstance(owner, ast.ClassDef):
            for line, after in zip(owner.body, [*owner.body[1:], None], strict=True):
                if isinstance(line, ast.AnnAssign):
                    text = ""
                    if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
                        text = str(after.value.value)
                    yield owner.name, ast.unparse(line.target), " ".join(text.split())


@pytest.mark.parametrize(("owner", "name", "text"), list(documented(SOURCE)))
def test_a_tuning_number_says_what_it_does_and_why_it_is_so(owner, name, text):
    """What was measured, or that it is judgement; rooms and efforts are explained as a whole."""
    assert len(text) > 10, name
    if owner not in ("OrderTuning", "Effort"):
        assert any(reason in text for reason in REASONS) or ", as ``" in text or text[0] == "…"


def test_a_number_without_a_reason_is_seen():
    """A check that cannot fail is worth nothing."""
    bare = "class A:\n    x: int = 3\n    y: int = 4\n    'Judgement: why.'\n"
    assert list(documented(bare)) == [("A", "x", ""), ("A", "y", "Judgement: why.")]


def test_the_rooms_hold_every_setting_once():
    """A field of the same name in two rooms would be set twice from the command line."""
    rooms = [getattr(tuning.USUAL, room.name) for room in fields(tuning.USUAL)]
    assert all(is_dataclass(room) for room in rooms)
    assert len(rooms) == 6
