"""What is kept comes back as it was, and nothing else ever comes out of a file."""

from __future__ import annotations

import datetime
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.model.kinds import Rounding
from chainplan.store.packing import NotReadable, pack, unpack

VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.text()
    | st.binary()
    | st.dates()
    | st.decimals(allow_nan=False, allow_infinity=False)
    | st.sampled_from(Rounding),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.lists(inner, max_size=4).map(tuple)
        | st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=12,
)


def same(one: object, other: object) -> bool:
    """Whether two values are equal in kind and content, arrays and all, field by field."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return list(one) == list(other) and all(same(one[key], other[key]) for key in one)
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return one.dtype == other.dtype and np.array_equal(
            one, other, equal_nan=one.dtype.kind == "f"
        )
    if is_dataclass(one):
        own = [item.name for item in fields(one) if not item.name.startswith("_")]
        return all(same(getattr(one, name), getattr(other, name)) for name in own)
    if isinstance(one, (tuple, list)):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


@given(VALUES)
def test_any_value_comes_back(value: object) -> None:
    """Plain values keep their kinds: a tuple is no list, 3 no 3.0."""
    assert same(unpack(pack(value)), value)


def test_a_planned_piece_comes_back(necklace_plan) -> None:
    """Layout, joins, heat and order of a real piece, to the last bit."""
    (planned,) = necklace_plan.pieces
    kept = (planned.layout, planned.joins, planned.heat, planned.order)
    assert same(unpack(pack(kept)), kept)


def test_arrays_and_single_numbers_keep_their_kind() -> None:
    """Whole numbers of 32 bits, single precision, an array twice, an empty one."""
    once = np.arange(6, dtype=np.int32).reshape(2, 3)
    value = (once, once, np.float32(0.1), np.zeros((0, 3)), np.array([np.nan, np.inf]))
    back = unpack(pack(value))
    assert same(back, value)
    assert back[0] is back[1]
    back[0][0, 0] = 7  # not read-only


def test_damage_is_seen_wherever_it_is() -> None:
    """One bit changed, a byte missing or more of them: not readable."""
    data = pack({"a": np.arange(50.0), "b": (1, "two")})
    for place in range(0, len(data), 7):
        broken = bytearray(data)
        broken[place] ^= 4
        with pytest.raises(NotReadable):
            unpack(bytes(broken))
    for wrong in (b"", data[:-1], data[: len(data) // 2], data + b"x"):
        with pytest.raises(NotReadable):
            unpack(wrong)


@pytest.mark.parametrize("path", ["os:system", "chainplan.workers:cores", "chainplan.nowhere:X"])
def test_only_our_own_data_is_made(path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that names a function, or something foreign, makes nothing."""
    import chainplan.store.packing as module

    monkeypatch.setattr(module, "_tree_of", lambda *_: {"c": [path, {}]})
    with pytest.raises(NotReadable):
        unpack(pack(0))


def test_what_is_not_for_keeping_is_refused() -> None:
    """An open thing, or an array of objects."""
    for value in (object(), np.array([object()])):
        with pytest.raises(TypeError):
            pack(value)
    assert unpack(pack((Decimal("1.50"), datetime.date(2026, 1, 2)))) == (
        Decimal("1.50"),
        datetime.date(2026, 1, 2),
    )


def test_a_set_has_one_digest_whatever_its_order_in_this_process() -> None:
    """Words have another order in every process."""
    program = (
        "from chainplan.store.packing import digest, pack;"
        "words = frozenset({'coil', 'cut', 'weave', 'weld', 'tumble', 'clean', 'inspect'});"
        "print(digest(words), hash('weave'))"
    )
    told = {
        tuple(
            subprocess.run(
                [sys.executable, "-c", program],
                env={**os.environ, "PYTHONHASHSEED": str(seed)},
                capture_output=True, text=True, check=True,
            ).stdout.split()
        )
        for seed in (1, 2, 3)
    }  # fmt: skip
    assert len({one for one, _ in told}) == 1
    assert len({order for _, order in told}) == 3
