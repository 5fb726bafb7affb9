"""Which rings of one wire suit a weave: exact for a single link, consistent for all."""

from __future__ import annotations

from itertools import pairwise

import pytest

from chainplan.errors import CannotBeWoven, InputError
from chainplan.model.job import Section
from chainplan.weave.fit import BEYOND, feel_of, feels_of, inner_range_of_feel, size_ring
from chainplan.weave.library import load_weave
from chainplan.weave.solving.limits import verdicts_of


def ring_of(weave, wire_mm=1.0, inner_mm=4.5, **more):
    """A section of sterling silver of which only the ring matters."""
    return Section(
        weave=weave, metal="sterling-silver", wire_mm=wire_mm, inner_mm=inner_mm, rings=10, **more
    )


def test_a_single_link_goes_from_two_wires_on():
    """Two wires lie in one opening, so the smallest ring is two wires inside; exact."""
    low, high = inner_range_of_feel(ring_of("single-link", wire_mm=1.5))
    assert low == pytest.approx(3.0, abs=1e-6)
    last = verdicts_of(load_weave("single-link"))[-2][0]
    assert high == pytest.approx(3.0 * (1 + last) * (1 + BEYOND), rel=1e-6)


def test_feels_follow_one_another_without_a_gap():
    """Where one word ends the next begins; the first begins where the weave does."""
    section = ring_of("byzantine", wire_mm=0.8)
    words = [word for _, word in verdicts_of(load_weave("byzantine"))]
    ranges = [inner_range_of_feel(section, word) for word in words]
    whole = inner_range_of_feel(section)
    assert ranges[0][0] == whole[0]
    assert ranges[-1][1] == whole[1]
    for (_, end), (begin, _) in pairwise(ranges):
        assert end == begin
    assert all(low < high for low, high in ranges)
    assert feels_of(section) == tuple(
        (word, begin) for word, (begin, _) in zip(words, ranges, strict=True)
    )


def test_a_ring_feels_as_it_does_when_it_is_solved():
    """The word needs no solution: it rests on the smallest ring alone."""
    for inner_mm in (3.4, 3.9, 4.3, 5.0):
        section = ring_of("byzantine", inner_mm=inner_mm)
        assert feel_of(section) == size_ring(section, inner_mm).verdict


def test_a_feel_that_a_weave_does_not_have_is_refused():
    with pytest.raises(InputError, match="spongy"):
        inner_range_of_feel(ring_of("single-link"), "spongy")


def test_a_single_link_has_a_ring_every_inner_diameter():
    """Exact: taut, each is as long as it is inside, and the chain as wide as it is outside."""
    found = size_ring(ring_of("single-link", wire_mm=1.2, inner_mm=3.0), 5.0)
    ((wire_mm, inner_mm, rings_per_cm),) = found.sizes
    assert (wire_mm, inner_mm) == (pytest.approx(1.2), pytest.approx(5.0))
    assert rings_per_cm == pytest.approx(10 / 5.0, rel=1e-6)
    assert found.verdict in [word for _, word in verdicts_of(load_weave("single-link"))]
    assert found.width_mm == pytest.approx(5.0 + 2 * 1.2, abs=1e-6)


def test_a_sheet_that_lies_flat_takes_more_rings_than_one_pulled_along():
    """How it lies decides how many rings a centimetre has."""
    taut, flat = (
        size_ring(ring_of("european-4-in-1", rows=5, lies=lies), 4.5).sizes[0][2]
        for lies in ("pulled along", "laid flat")
    )
    assert flat > taut * 1.05


def test_rows_count_for_the_rings_of_a_centimetre():
    """Five rows have five thirds of the rings of three."""
    three, five = (
        size_ring(ring_of("european-4-in-1", rows=rows), 4.5).sizes[0][2] for rows in (3, 5)
    )
    assert five / three == pytest.approx(5 / 3, rel=0.02)


def test_two_sizes_of_ring_are_told_apart():
    """The connecting rings of a Japanese sheet are smaller and more than the large ones."""
    section = ring_of("japanese-12-in-2", wire_mm=1.0, inner_mm=6.0, rows=4)
    sizes = size_ring(section, 6.0).sizes
    assert len(sizes) == 2
    assert sizes[0][:2] == (pytest.approx(1.0), pytest.approx(6.0))
    second = load_weave("japanese-12-in-2").classes[1]
    assert sizes[1][0] == pytest.approx(second.wire_ratio)
    assert sizes[1][1] == pytest.approx(6.0 * second.inner_ratio)
    assert sizes[1][2] > sizes[0][2]


def test_a_ring_that_does_not_go_in_is_refused():
    with pytest.raises(CannotBeWoven):
        size_ring(ring_of("byzantine"), 2.9)
