"""The examiner's short ways find what the long ones do: like corners, single steps, drawings."""

from __future__ import annotations

import re
import zlib
from types import SimpleNamespace

import numpy as np
import pytest

from chainplan.examine.alike import kinds_of_rows
from chainplan.examine.heat.simulation import (
    simulate,
    solve,
    solve_all,
    solve_beside,
    warmth_before,
)
from chainplan.examine.heat.written import Network
from chainplan.examine.printed.pages import _without_drawings
from chainplan.examine.printed.wording import wording

SIZE = 40


def chain(*, wires: int = 1, clip: bool = False) -> Network:
    """Rings in a row at three ends; of two wires every third ring is heavier."""
    number = np.arange(SIZE)
    capacity = np.where(number % 3 == 0, 0.05 * wires, 0.05)
    surface = np.where(number % 3 == 0, 1.2**wires, 1.2)
    sink = np.where(number == 0, 0.02 * clip, 0.0)
    return Network(
        capacity=capacity, loss=np.outer([3e-3, 2e-3, 1e-3], surface),
        pairs=np.stack([number[:-1], number[1:]], axis=1),
        conductance=np.outer([0.02, 0.02, 0.05], np.ones(SIZE - 1)), sink=sink,
        sink_c=np.full(SIZE, 35.0), share=np.array([0.4, 0.6, 0.8]), room_c=20.0, rings=SIZE,
        corners=("low", "usual", "good links"), ends=("low", "usual", "high"), parts=(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("network", "corner"),
    [(chain(), 1), (chain(clip=True), 1), (chain(), 2)],
    ids=["more loss", "more loss, and a clip", "better links"],
)
def test_a_corner_follows_from_one_that_is_like_it(network: Network, corner: int) -> None:
    """Its modes die away faster, and a clip at one end cools the rest of it otherwise."""
    found = solve_beside(network, corner, [(network, 0, solve(network, 0))])
    assert found is not None
    wanted = solve(network, corner)
    np.testing.assert_allclose(found.rate, wanted.rate, rtol=1e-9)
    np.testing.assert_allclose(found.base_c, wanted.base_c, rtol=1e-12)
    np.testing.assert_allclose(np.abs(found.shape), np.abs(wanted.shape), atol=1e-7)


@pytest.mark.parametrize(
    ("network", "corner"),
    [(chain(clip=True), 2), (chain(wires=2), 1), (chain(wires=2), 2)],
    ids=["better links, the same clip", "two wires", "two wires, better links"],
)
def test_a_corner_that_is_not_alike_is_solved_by_itself(network: Network, corner: int) -> None:
    """Nothing is taken over where clips stay as they are, or rings lose in other shares."""
    assert solve_beside(network, corner, [(network, 0, solve(network, 0))]) is None
    for k, modes in enumerate(solve_all(network)):
        np.testing.assert_allclose(modes.rate, solve(network, k).rate, rtol=1e-9)


def test_one_step_is_as_warm_as_in_the_whole_order() -> None:
    """And changes as fast, at every end, whatever was forgotten since."""
    network, rng = chain(clip=True), np.random.default_rng(3)
    welded = rng.permutation(SIZE)
    steps = {"power_j": np.full(SIZE, 20.0), "hits": np.full(SIZE, 2)}
    start_s = np.cumsum(rng.choice([4.0, 5.0, 900.0], SIZE))
    piece = SimpleNamespace(steps=steps, welded=welded)
    whole = simulate(network, piece, start_s, np.arange(1))
    for step in (0, 7, SIZE - 1):
        found = warmth_before(network, piece, start_s, step)
        assert list(found) == ["low", "usual", "high"]
        for k, (warm_c, slope_k_s) in enumerate(found.values()):
            run = whole.runs[k]
            assert warm_c == pytest.approx(run.before_c(whole.patch.place)[step], abs=1e-6)
            slope = abs(run.slope_k_s(whole.patch.place)[step])
            assert slope_k_s == pytest.approx(slope, abs=1e-6)


def drawing(content: bytes, resources: bytes) -> bytes:
    """Store a drawing as the pages do."""
    packed = zlib.compress(content)
    return (
        b"<<\n/BBox [ 0 0 10 10 ] /Filter [ /FlateDecode ] /FormType 1 /Length %d "
        b"/Matrix [ 1 0 0 1 0 0 ] /Resources <<\n%s\n>> \n  /Subtype /Form /Type /XObject\n>>\n"
        b"stream\n%s\nendstream" % (len(packed), resources, packed)
    )


@pytest.mark.parametrize(
    ("content", "resources", "emptied"),
    [
        (b"0 0 m\n10 10 l\nS\n" * 40, b"/ProcSet [ /PDF ]", True),
        (b"0 0 m\n10 10 l\nS\n" * 40, b"/Font 1 0 R /ProcSet [ /PDF /Text ]", True),
        (b"BT (7) Tj ET\n" * 40, b"/Font 1 0 R /ProcSet [ /PDF /Text ]", False),
        (b"q /other Do Q\n" * 40, b"/Font 1 0 R /ProcSet [ /PDF /Text ]", False),
        (b"B D I T o\n" * 40, b"/Font 1 0 R /ProcSet [ /PDF /Text ]", True),
    ],
)
def test_drawings_without_letters_are_emptied_and_no_others(
    content: bytes, resources: bytes, emptied: bool
) -> None:
    """Lengths stay, so that every place in the file does."""
    whole = b"before " + drawing(content, resources) + b" after"
    found = _without_drawings(whole)
    assert len(found) == len(whole)
    assert (found == whole) is not emptied
    packed = re.search(rb"stream\n(.*)\nendstream", found, re.DOTALL)
    assert packed is not None
    assert zlib.decompressobj().decompress(packed[1]) == (b"" if emptied else content)


def test_rows_of_a_kind_are_found_whatever_their_columns_hold() -> None:
    """As numpy finds them, row by row."""
    rng = np.random.default_rng(5)
    columns = [rng.integers(0, most, 500) / 2 for most in (1, 4, 300, 7)]
    first, kind = kinds_of_rows(*columns)
    rows = np.column_stack(columns)
    wanted, place = np.unique(rows, axis=0, return_inverse=True)
    np.testing.assert_array_equal(rows[first], wanted)
    np.testing.assert_array_equal(kind, place.ravel())
    columns = [rng.permutation(100_000) for _ in range(5)]
    assert len(kinds_of_rows(*columns)[0]) == 100_000


def test_the_line_of_a_pass_is_found_among_others() -> None:
    """By its own number, where a line begins, and not within another number."""
    text = (
        "Passes 11–12 of 40 · joins 3–9 · 13 J, 1 hit, sharp tip "
        "pass 11: as pass 12, other way · joins 3–5, ring 7 to 9 · wait 4 s before join 4 "
        "pass 12: every ring · joins 6–9, ring 1 to 4"
    )
    found = wording("en").line_of_group(12, text)
    assert found is not None
    assert found.groups()[:5] == ("every ring", "6", "9", "1", "4")
    assert wording("en").line_of_group(2, text) is None
    first = wording("en").line_of_group(11, text)
    assert first is not None
    assert first[6] == "wait 4 s before join 4"
