"""Every number that a module declares says where it comes from or why it is so."""

from __future__ import annotations

import ast
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import chainplan

if TYPE_CHECKING:
    from collections.abc import Iterator

FOLDER = Path(chainplan.__file__).parent
WRITTEN_OUT = (ast.Constant, ast.UnaryOp, ast.BinOp, ast.Tuple, ast.Dict, ast.List, ast.Set)


def numbers_of(value: ast.expr) -> list[int | float]:
    """Numbers that stand in a value."""
    return [
        node.value
        for node in ast.walk(value)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, (int, float))
        and not isinstance(node.value, bool)
    ]


def without_a_reason(source: str) -> Iterator[str]:
    """Numeric constants that neither a string below, nor a comment, nor their group explains.

    A group is a run of assignments without a blank line, which the string below the last explains.
    """
    lines, body = source.splitlines(), ast.parse(source).body
    for place, node in enumerate(body):
        if not isinstance(node, (ast.Assign, ast.AnnAssign)) or node.value is None:
            continue
        if not isinstance(node.value, WRITTEN_OUT) or not numbers_of(node.value):
            continue
        last = place
        while (
            last + 1 < len(body)
            and isinstance(body[last + 1], (ast.Assign, ast.AnnAssign))
            and body[last + 1].lineno == body[last].end_lineno + 1
        ):
            last += 1
        after = body[last + 1] if last + 1 < len(body) else None
        told = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
        above = lines[node.lineno - 2].startswith("#") if node.lineno > 1 else False
        beside = any("  #" in line for line in lines[node.lineno - 1 : node.end_lineno])
        if not (told or above or beside):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            yield ast.unparse(target)


@pytest.mark.parametrize(
    "path", sorted(FOLDER.rglob("*.py")), ids=lambda path: path.relative_to(FOLDER).as_posix()
)
def test_every_number_says_why(path: Path) -> None:
    """Who meets a number knows whether it may be changed."""
    assert list(without_a_reason(path.read_text(encoding="utf-8"))) == []


def test_a_number_without_a_reason_is_seen() -> None:
    """A check that cannot fail is worth nothing."""
    source = (
        'A = 3\n\nB = 4\nC = 5\n"""Of both: why."""\nD = 6  # why\nE = "no number"\nF = 2 * 7\n'
    )
    assert list(without_a_reason(source)) == ["A", "F"]
