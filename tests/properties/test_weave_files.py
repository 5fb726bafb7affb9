"""Whatever stands in a weave file, it is read or refused with its faults, never a crash."""

from __future__ import annotations

import copy
import tomllib

from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.errors import InputError
from chainplan.model.piece.weave import Weave
from chainplan.weave.library import LIBRARY_FOLDER, weave_keys
from chainplan.weave.weavefile import read_weave

RAW = {
    key: tomllib.loads((LIBRARY_FOLDER / f"{key}.toml").read_text(encoding="utf-8"))
    for key in weave_keys()
}
values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-5, 5)
    | st.floats()
    | st.text(max_size=4)
    | st.sampled_from(["chain", "sheet", "between", "turn"]),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=6,
)


def list_places(node, path=()):
    """Every place of a nested file, as the keys and numbers that lead to it."""
    yield path
    items = node.items() if isinstance(node, dict) else enumerate(node)
    for name, inner in items:
        if isinstance(inner, dict | list):
            yield from list_places(inner, (*path, name))
        else:
            yield (*path, name)


@settings(max_examples=400)
@given(key=st.sampled_from(sorted(RAW)), data=st.data())
def test_any_value_anywhere_in_a_weave_file_is_read_or_refused(key, data):
    """A spoilt field gives faults that name the file, not an error from inside."""
    raw = copy.deepcopy(RAW[key])
    places = [place for place in list_places(raw) if place]
    *way, last = data.draw(st.sampled_from(places))
    node = raw
    for step in way:
        node = node[step]
    node[last] = data.draw(values)
    refused = None
    try:
        weave = read_weave(raw, "own.toml")
    except InputError as error:
        refused = error
    if refused is None:
        assert isinstance(weave, Weave)
        assert len(weave.ring_class) == len(raw["seed"]["rings"])
    else:
        assert refused.faults
        assert all(fault.where.startswith("own.toml: ") for fault in refused.faults)
