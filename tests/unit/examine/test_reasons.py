"""The sentence about a way out of a fold has the margins that the search found."""

from __future__ import annotations

import pytest

from chainplan.examine.findings import Teller
from chainplan.examine.piece.masses import WAYS_OVER_PERCENT, _check_reasons
from chainplan.weave.solving.limits import WAYS_OVER, say_way_over


def findings(weave: str, reasons: list[str]) -> int:
    """Examine the reasons of a ring's fit in a weave."""
    section = {
        "weave": weave, "reasons": reasons, "smallest_aspect_ratio": 3.0, "aspect_ratio": 4.0,
        "looseness": 0.1, "suitable_inner_mm": [], "wire_mm": 1.0,
    }  # fmt: skip
    teller = Teller("masses and wire add up")
    _check_reasons("piece, section 1", section, teller)
    return len(teller.close())


def test_margins_are_those_that_the_search_found():
    """The examiner's own list is the weaves'."""
    known = {key: (round(100 * a), round(100 * b)) for key, (a, b, _) in WAYS_OVER.items()}
    assert known == WAYS_OVER_PERCENT


@pytest.mark.parametrize("weave", sorted(WAYS_OVER))
def test_sentence_as_it_is_written_passes(weave):
    """What the plan says of each fold is what the examiner expects."""
    assert findings(weave, [say_way_over(*WAYS_OVER[weave][:2])]) == 0


@pytest.mark.parametrize(
    ("weave", "reasons"),
    [
        ("byzantine", [say_way_over(0.2, 0.33)]),
        ("byzantine", [say_way_over(0.23, 0.3)]),
        ("roundmaille", [say_way_over(0.02, 0.05)]),
        ("byzantine", []),
        ("european-4-in-1", [say_way_over(0.2, 0.3)]),
    ],
)
def test_another_margin_is_found(weave, reasons):
    """Either per cent by three, none said, and said of a weave that has none."""
    assert findings(weave, reasons) == 1
