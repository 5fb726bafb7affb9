"""How a sheet lies when it is measured: pulled along its rows, across them, or laid flat."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import chainplan
from chainplan.errors import WeaveError
from chainplan.job import section_from_words
from chainplan.model.job import Piece, Section
from chainplan.model.kinds import Lying
from chainplan.public.counting import QUICK_RINGS
from chainplan.weave import lay_piece

CUFF = {"weave": "european-4-in-1", "wire": 1.2, "inner": 6.0, "length": 160.0, "rows": 5}
WAYS = [str(lies) for lies in Lying]


def test_a_cuff_takes_the_rings_of_the_way_it_is_measured() -> None:
    """Five rows of 16 cm: gaps of 2.8 mm in a row pulled along, none pulled across."""
    along, across, flat = (chainplan.count_rings(**CUFF, lies=lies) for lies in WAYS)
    assert (along.rings, across.rings) == (70, 95)
    assert along.rings < flat.rings < across.rings
    outer_mm = 6.0 + 2 * 1.2
    assert along.longer_mm - along.length_mm - outer_mm == pytest.approx(2.8, abs=0.02)
    assert across.width_mm > flat.width_mm > along.width_mm
    area = [(c.longer_mm - c.length_mm) * c.width_mm for c in (along, across, flat)]
    assert max(area) == area[2]
    # Without edges 16 cm laid flat have 89 rings; with them 85 are 4.0 mm short, 90 are 4.9 long.
    assert 5 * 160.0 / (flat.longer_mm - flat.length_mm) == pytest.approx(89.4, abs=0.1)
    assert flat.rings == 85
    assert (flat.length_mm, flat.longer_mm) == pytest.approx((156.0, 164.9), abs=0.1)
    least = chainplan.count_rings(**CUFF, lies="laid flat", rounding="at least")
    assert (least.rings, least.length_mm) == (90, flat.longer_mm)


@pytest.mark.parametrize("inner_mm", [4.0, 5.0, 6.5])
def test_pulled_across_the_rings_of_a_row_stand_an_outer_diameter_apart(inner_mm: float) -> None:
    """The closed form of European 4-in-1: they touch side by side, ID + 2d from one to the next."""
    count = chainplan.count_rings(**CUFF | {"inner": inner_mm, "rows": 4}, lies="pulled across")
    assert count.longer_mm - count.length_mm == pytest.approx(inner_mm + 2 * 1.2, abs=1e-4)
    layout = count.layout
    assert layout is not None
    row = np.flatnonzero(layout.row == 1)
    step = np.diff(layout.centre_mm[row], axis=0)
    assert step[:, 0] == pytest.approx(np.full(len(step), inner_mm + 2.4), abs=1e-4)
    assert np.ptp(layout.centre_mm[row, 1:], axis=0) == pytest.approx([0, 0], abs=1e-6)


def test_without_a_word_a_sheet_is_pulled_along_as_every_length_is_stretched_out() -> None:
    """The other two stand beside it, each as it is counted by itself."""
    count = chainplan.count_rings(**CUFF)
    assert count.lies == "pulled along"
    assert [other.lies for other in count.lying_otherwise] == ["pulled across", "laid flat"]
    for other in count.lying_otherwise:
        alone = chainplan.count_rings(**CUFF, lies=other.lies)
        assert (alone.lies, alone.rings, alone.length_mm, alone.width_mm) == (
            other.lies, other.rings, other.length_mm, other.width_mm,
        )  # fmt: skip
        assert other.longer_mm == alone.longer_mm
        assert {count.rings} <= {o.rings for o in alone.lying_otherwise}


def test_one_per_cent_of_inner_diameter_is_told_of_the_sheet_as_it_lies() -> None:
    """Pulled across, a row grows with the rings' outer diameter and with nothing else."""
    count = chainplan.count_rings(**CUFF, lies="pulled across")
    larger = count.tolerance[1]
    pitch_mm = count.longer_mm - count.length_mm
    assert larger.rings_per_cm == pytest.approx(count.rings_per_cm * pitch_mm / (pitch_mm + 0.06))


def test_a_chain_does_not_lie_and_a_large_repeat_is_solved_one_way() -> None:
    """What does not go together is refused; what would take minutes is not done unasked."""
    chain = chainplan.count_rings(weave="byzantine", wire=1.0, inner=3.5, rings=30)
    assert (chain.lies, chain.lying_otherwise) == ("", ())
    with pytest.raises(chainplan.InputError, match="lies is given for byzantine, which is a chain"):
        chainplan.count_rings(weave="byzantine", wire=1.0, inner=3.5, rings=30, lies="laid flat")
    with pytest.raises(chainplan.InputError, match="pulled across"):
        chainplan.count_rings(**CUFF, lies="crumpled")
    large = chainplan.count_rings(weave="japanese-12-in-2", wire=1.2, inner=6.6, rings=90, rows=3)
    assert large.repeat is not None
    assert large.repeat.rings > QUICK_RINGS
    assert (large.lies, large.lying_otherwise) == ("pulled along", ())


@pytest.mark.parametrize("lies", WAYS)
def test_a_single_row_hangs_on_nothing_however_it_lies(lies: str) -> None:
    """Refused with the rows that hold."""
    with pytest.raises(WeaveError, match="hanging on nothing; at least 2 rows"):
        chainplan.count_rings(**CUFF | {"rows": 1}, lies=lies)


@pytest.mark.parametrize("lies", WAYS)
def test_a_sheet_keeps_its_links_however_it_lies(lies: str) -> None:
    """Lying is a pose, no other weave: same rings linked to the same, no wire in another."""
    section = section_from_words(
        weave="european-4-in-1", wire=1.2, inner=6.0, rings=60, rows=5, lies=lies,
        metal="copper",
    )  # fmt: skip
    layout = lay_piece(Piece(name="cuff", quantity=1, sections=(section,)))
    usual = lay_piece(Piece(name="cuff", quantity=1, sections=(_along(section),)))
    assert np.array_equal(layout.links, usual.links)
    assert layout.sections[0].repeat is not None
    assert layout.sections[0].repeat.residual_gap >= -1e-6


def _along(section: Section) -> Section:
    return replace(section, lies=Lying.ALONG)
