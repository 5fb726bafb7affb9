"""A weave file is read whole, and every fault of it is named at once with its field."""

from __future__ import annotations

import math
import tomllib

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.weave.weavefile import read_weave

GOOD = """
key = "my-chain"
title = "My chain"
trade_names = ["mine"]
family = "plain chain"
form = "chain"
turn_deg = 90.0
source = "an invented sample"
links = [
    [0, 1, 0],
    [1, 0, 1],
]
[[classes]]
name = "large"
[[classes]]
name = "small"
wire_ratio = 0.8
inner_ratio = 0.9
[[rings]]
class = "large"
[[rings]]
class = "small"
[seed]
aspect_ratio = 6.0
rings = [
    [0.0, 0.0, 0.0, 0.0, 0.0, 1.0],
    [5.0, 0.0, 0.0, 0.0, 1.0, 0.0],
]
vectors = [[10.0, 0.0, 0.0]]
[[invariants]]
check = "between"
ring = [0, 1]
pair = [[0, 0], [1, 0]]
meaning = "something passes between"
"""

FAULTS = {
    "a field nobody knows": ('family = "plain chain"', 'famly = "x"', ["famly", "'family'"]),
    "a missing field": ('source = "an invented sample"', "", ["source", "missing"]),
    "an empty title": ('title = "My chain"', 'title = " "', ["title", "some text"]),
    "a key with capitals": ('"my-chain"', '"My Chain"', ["key", "lower-case"]),
    "a form that is none": ('form = "chain"', 'form = "chian"', ["form", "'chain'"]),
    "names that are no list": ('["mine"]', '"mine"', ["trade_names", "list"]),
    "a turn that is a word": ("turn_deg = 90.0", 'turn_deg = "90"', ["turn_deg", "degrees"]),
    "a turn of a sheet": ('form = "chain"', 'form = "sheet"', ["turn_deg", "no axis"]),
    "one vector for a sheet": ('form = "chain"', 'form = "sheet"', ["seed.vectors", "2 row"]),
    "a ring that is not there": ("[1, 0, 1],", "[1, 2, 1],", ["links[1]", "0 to 1"]),
    "a ring through itself": ("[1, 0, 1],", "[1, 1, 0],", ["links[1]", "itself"]),
    "a link said twice": ("[1, 0, 1],", "[1, 0, 0],", ["links[1]", "links[0]"]),
    "a link half said": ("[1, 0, 1],", "[1, 0],", ["links[1]", "whole numbers"]),
    "a chain linked across": ("[1, 0, 1],", "[1, 0, 1, 1],", ["links[1]", "only a sheet"]),
    "a class nobody named": ('class = "small"', 'class = "smal"', ["rings[1].class", "'small'"]),
    "too few rings": ('[[rings]]\nclass = "small"\n', "", ["rings", "expected 2"]),
    "a ratio below zero": ("wire_ratio = 0.8", "wire_ratio = -1", ["classes[1].wire_ratio", "0"]),
    "a first class not 1": ('name = "large"', 'name = "large"\nwire_ratio = 2.0', ["first class"]),
    "a seed that is no table": ("[seed]\naspect_ratio = 6.0", "[sead]", ["sead", "'seed'"]),
    "a ratio that is too small": ("= 6.0", "= 0.5", ["seed.aspect_ratio", "above 1"]),
    "a pose too short": ("0.0, 0.0, 1.0],", "0.0, 1.0],", ["seed.rings[0]", "nz]"]),
    "a normal of no length": ("0.0, 1.0, 0.0],", "0.0, 0.0, 0.0],", ["seed.rings[1]", "no length"]),
    "a chain that is not along x": ("[[10.0, 0.0", "[[10.0, 1.0", ["seed.vectors[0]", "along x"]),
    "an unknown check": ('"between"', '"betwen"', ["invariants[0].check", "'between'"]),
    "a check without its pair": ("pair = ", "pairs = ", ["invariants[0].pair", "2 rings"]),
    "a check of a missing ring": (
        "ring = [0, 1]",
        "ring = [7, 1]",
        ["invariants[0].ring", "0 to 1"],
    ),
    "a check with a word too many": (
        'check = "between"',
        'check = "between"\nrings = 2',
        ["invariants[0].rings", "'ring'"],
    ),
    "a stretch that is none": ("vectors", 'stretch = "up"\nvectors', ["seed.stretch", "along"]),
    "a switch that is a number": ("vectors", "free_turn = 1\nvectors", ["seed.free_turn", "true"]),
}


def test_good_file_is_read_as_it_says():
    """The base of the broken ones must itself be sound, or they would prove nothing."""
    weave = read_weave(tomllib.loads(GOOD), "my-chain.toml")
    assert (weave.key, weave.title) == ("my-chain", "My chain")
    assert weave.ring_class == (0, 1)
    assert weave.classes[1].wire_ratio == 0.8
    assert weave.turn_rad == pytest.approx(math.pi / 2)
    np.testing.assert_array_equal(weave.links, [[0, 1, 0, 0], [1, 0, 1, 0]])


@pytest.mark.parametrize("fault", FAULTS)
def test_broken_file_is_refused_with_a_message_that_names_the_field(fault):
    """One fault a file; the message says where, and what is allowed."""
    old, new, words = FAULTS[fault]
    assert old in GOOD
    with pytest.raises(InputError) as caught:
        read_weave(tomllib.loads(GOOD.replace(old, new, 1)), "my-chain.toml")
    for word in words:
        assert word in str(caught.value)
    assert "my-chain.toml" in str(caught.value)


def test_all_faults_of_a_file_are_told_at_once():
    """A maker should not have to run the check once a fault."""
    text = GOOD
    for fault in ("a form that is none", "a link half said", "an unknown check", "an empty title"):
        old, new, _ = FAULTS[fault]
        text = text.replace(old, new, 1)
    with pytest.raises(InputError) as caught:
        read_weave(tomllib.loads(text), "my-chain.toml")
    told = {fault.where for fault in caught.value.faults}
    for field in ("form", "links[1]", "invariants[0].check", "title"):
        assert f"my-chain.toml: {field}" in told


def test_a_link_may_be_said_from_either_ring():
    """Ring 1 through ring 0 a repeat back is ring 0 through ring 1 a repeat on."""
    turned = GOOD.replace("[1, 0, 1],", "[0, 1, -1],")
    plain = read_weave(tomllib.loads(GOOD), "x").links
    np.testing.assert_array_equal(read_weave(tomllib.loads(turned), "x").links, plain)


def test_words_do_not_change_what_the_geometry_depends_on():
    """Stored solutions are kept by this: a better note must not throw them away."""
    other = GOOD.replace("an invented sample", "another source")
    one, two = (read_weave(tomllib.loads(text), "x").data for text in (GOOD, other))
    assert one == two
