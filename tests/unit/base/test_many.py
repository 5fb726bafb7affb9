"""Alternatives and price lists counted side by side are those counted one after another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

import chainplan
from chainplan.public import many

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.job import Job


@pytest.fixture
def job(samples: Path) -> Job:
    return chainplan.read_job(samples / "necklace.toml")


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many workers were asked for; few pieces are enough for two."""
    seen: list[int] = []
    real = many.side_by_side

    def watched(function, tasks, workers):  # type: ignore[no-untyped-def]
        seen.append(workers.count)
        return real(function, tasks, workers)

    monkeypatch.setattr(many, "side_by_side", watched)
    monkeypatch.setattr(many, "FEWEST", 2)
    return seen


def test_a_comparison_is_the_same_for_any_number_of_workers(job: Job, asked: list[int]) -> None:
    """One of them cannot be woven, and says so from a worker too."""
    ways = {"wires": ["0.8mm", "1mm"], "inners": ["1.2mm", "3.6mm"], "metals": ["copper"]}
    one = chainplan.compare_rings(job, **ways)
    two = chainplan.compare_rings(job, **ways, workers=2)
    assert asked == [1, 2]
    assert one == two
    assert not all(line.possible for line in one.lines)
    assert any(line.possible for line in one.lines)


def test_a_price_list_is_the_same_for_any_number_of_workers(job: Job, asked: list[int]) -> None:
    """Each length whole by itself."""
    lengths = ["40cm", "42cm", "45cm", "50cm"]
    assert chainplan.price_list(job, lengths=lengths) == chainplan.price_list(
        job, lengths=lengths, workers=2
    )
    assert asked == [1, 2]


def test_few_pieces_are_counted_here() -> None:
    """A worker that starts takes longer than it saves."""
    assert many.count_pieces([], workers=8) == []
