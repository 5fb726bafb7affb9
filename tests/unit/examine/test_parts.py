"""The examination in parts: what is found does not depend on how many look at it."""

from __future__ import annotations

import csv
import shutil
from typing import TYPE_CHECKING

from chainplan.examine import examine_folder
from chainplan.examine.findings import MOST_OF_A_CHECK, Finding
from chainplan.examine.parts import BY_PIECE, FILES, Looked, findings_of, parts_of, put_together
from chainplan.workers import Workers

if TYPE_CHECKING:
    from pathlib import Path


def warmer(folder: Path) -> None:
    """Write that all joins of all pieces were too hot before their welds."""
    path = folder / "weld-order.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["interpass_high_c"] = "700"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_two_find_what_one_finds(good: Path, tmp_path: Path) -> None:
    """On sound files, and on such as have more wrong with each piece than a check lists."""
    folder = tmp_path / "plan"
    shutil.copytree(good, folder)
    two = Workers(count=2)
    assert examine_folder(folder, workers=two) == examine_folder(folder)
    warmer(folder)
    alone, beside = examine_folder(folder), examine_folder(folder, workers=two)
    assert beside == alone
    told = [item for item in alone.findings if item.check == BY_PIECE[0]]
    assert len(told) == MOST_OF_A_CHECK + 1
    assert "more like these" in told[-1].found
    assert not FILES  # nothing of it is kept in this process


def test_every_check_and_every_piece_is_dealt_out_once(tmp_path: Path) -> None:
    """Checks of heat by pieces, the others as they are; none for no pieces."""
    names = [*BY_PIECE, *(f"check {number}" for number in range(20))]
    for pieces in (1, 5, 100):
        parts = parts_of(tmp_path, "once", names, pieces, watched=False)
        by_piece = [part for part in parts if part.checks == BY_PIECE]
        seen = [one for part in by_piece for one in range(pieces)[part.pieces]]
        assert seen == list(range(pieces))
        others = [name for part in parts if part not in by_piece for name in part.checks]
        assert sorted(others) == sorted(names[2:])
    assert parts_of(tmp_path, "once", [], 5, watched=False) == []


def test_more_than_a_check_lists_is_counted_over_all_parts() -> None:
    """Fifteen in each of two parts, and five not listed: twenty are told, fifteen counted."""
    found = tuple(Finding("heat", "plan", f"place {k}", "1", "2") for k in range(15))
    one = Looked("heat", found, 0, ("some",), frozenset({"a"}))
    two = Looked("heat", found, 5, ("others",), frozenset({"b"}))
    whole = put_together([[one], [two]])["heat"]
    assert (len(whole.findings), whole.more) == (MOST_OF_A_CHECK, 15)
    assert whole.notes == ("some", "others")
    assert whole.read == {"a", "b"}
    assert findings_of(whole)[-1].found == "15 more like these"
