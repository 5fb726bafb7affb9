"""The examination in parts: what is found does not depend on how many look at it."""

from __future__ import annotations

import csv
import pickle
import shutil
from dataclasses import fields, replace
from typing import TYPE_CHECKING

from chainplan.examine import examine_folder
from chainplan.examine.findings import MOST_OF_A_CHECK, Finding
from chainplan.examine.parts import APART, FILES, Looked, findings_of, parts_of, put_together
from chainplan.workers import Workers

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.examine.reading import PlanFiles


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
    told = [item for item in alone.findings if item.check == "limits hold at the peaks"]
    assert len(told) == MOST_OF_A_CHECK + 1
    assert "more like these" in told[-1].found
    assert not FILES  # nothing of it is kept in this process


def test_every_check_and_every_piece_is_dealt_out_once(files: PlanFiles) -> None:
    """Checks that look at each piece for itself by pieces, the others as they are."""
    names = [*APART, *(f"check {number}" for number in range(20))]
    for pieces in (1, len(files.pieces)):
        some = replace(files, pieces=files.pieces[:pieces])
        parts = parts_of(files.folder, "once", names, some, watched=False)
        by_piece = [part for part in parts if part.some is not None]
        seen = [piece.name for part in by_piece if part.some for piece in part.some.pieces]
        assert seen == [piece.name for piece in some.pieces]
        assert {name for part in by_piece for name in part.checks} == set(APART)
        others = [name for part in parts if part.some is None for name in part.checks]
        assert sorted(others) == sorted(names[len(APART) :])
    assert parts_of(files.folder, "once", [], files, watched=False) == []


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


def test_what_is_worked_out_stays_where_it_is(files: PlanFiles) -> None:
    """A process that is sent a piece gets what was read: the rest may be growing meanwhile."""
    piece = files.pieces[0]
    assert piece.count > 0
    assert "count" in vars(piece)
    sent = pickle.loads(pickle.dumps(piece))
    assert set(vars(sent)) == {item.name for item in fields(piece)}
    assert sent.count == piece.count
    files.simulated["some"] = 1
    assert pickle.loads(pickle.dumps(files)).simulated == {}
    del files.simulated["some"]
