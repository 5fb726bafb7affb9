"""The note of a way to close rings beforehand counts and lists rings that are so."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from chainplan.examine.findings import Teller
from chainplan.examine.piece.counts import _check_note

LINKED = "being linked to a closed one"


def findings(note: str, *, chosen: bool = True) -> int:
    """Examine a note on ten rings in a row, of which 3 and 7 are closed and 9 holds a clasp."""
    ring = np.arange(1, 10)
    fitting = np.array([""] * 8 + ["clasp", ""], dtype=object)
    closed = np.where(np.isin(np.arange(1, 11), [3, 7]), "yes", "no").astype(object)
    piece = SimpleNamespace(
        count=10, rings={"closed_beforehand": closed, "fitting": fitting},
        links={"ring": ring, "other": ring + 1, "how": np.array(["link"] * 9, dtype=object)},
    )  # fmt: skip
    teller = Teller("numbers of rings and joins agree")
    _check_note(piece, {"note": note, "pre_closed": 2}, "note", teller, chosen=chosen)
    return len(teller.close())


@pytest.mark.parametrize(
    "note",
    [
        f"near; 4 near ones stay open, {LINKED}: rings 2, 4, 6, 8",
        f"near; 5 near ones stay open, {LINKED}: rings 2, 4, 6, 8 …",
        f"near; 1 near one stays open, {LINKED}: ring 2; "
        "1 near one stays open, going through a fitting: ring 9",
        "2 joins that nothing reaches",
        "proved largest",
    ],
)
def test_a_true_note_is_let_pass(note: str) -> None:
    """All of its rings, or the first of more, or none."""
    assert findings(note) == 0


@pytest.mark.parametrize(
    "note",
    [
        f"near; 3 near ones stay open, {LINKED}: rings 2, 4, 6, 8",
        f"near; 4 near ones stay open, {LINKED}: rings 2, 4, 6, 8 …",
        f"near; 2 near ones stay open, {LINKED}: rings 4, 2",
        f"near; 2 near ones stay open, {LINKED}: rings 2, 12",
        "3 joins that nothing reaches",
    ],
)
def test_a_note_that_counts_otherwise_is_found_whatever_way_is_taken(note: str) -> None:
    """Its own numbers contradict each other, or those of the piece."""
    assert findings(note, chosen=False) == findings(note) == 1


@pytest.mark.parametrize(
    "note",
    [
        f"near; 2 near ones stay open, {LINKED}: rings 2, 3",
        f"near; 2 near ones stay open, {LINKED}: rings 2, 5",
        "near; 1 near one stays open, going through a fitting: ring 8",
    ],
)
def test_of_the_way_that_is_taken_each_ring_is_looked_at(note: str) -> None:
    """One that is closed, one beside no closed one, one without a fitting."""
    assert findings(note, chosen=False) == 0
    assert findings(note) == 1
