"""Finding metals by the names that people use."""

from dataclasses import replace

import pytest

from chainplan.errors import InputError
from chainplan.reference import find_metal, metal_keys, metals, own_value
from chainplan.reference.metals import yield_of


@pytest.mark.parametrize(
    ("word", "key"),
    [
        ("sterling-silver", "sterling-silver"),
        ("Sterling Silver", "sterling-silver"),
        ("925", "sterling-silver"),
        ("aluminum", "aluminium"),
        ("18k", "gold-18ct-yellow"),
        ("SS304", "stainless-304"),
        (" Fine  silver ", "fine-silver"),
    ],
)
def test_a_metal_is_found_by_the_names_people_use(word, key):
    assert find_metal(word).key == key


def test_every_metal_that_is_promised_is_there():
    """The metals that the program is described with."""
    promised = {
        "fine-silver", "sterling-silver", "germanium-silver", "gold-9ct-yellow",
        "gold-14ct-yellow", "gold-18ct-yellow", "copper", "brass", "gilding-metal",
        "phosphor-bronze", "stainless-304", "stainless-316l", "titanium", "niobium", "aluminium",
    }  # fmt: skip
    assert promised <= set(metal_keys())
    assert set(metals()) == set(metal_keys())


@pytest.mark.parametrize(
    ("word", "hints"),
    [
        ("silver", ["fine-silver", "sterling-silver"]),
        ("sterlin silver", ["sterling-silver"]),
        ("stainless", ["stainless-304", "stainless-316l"]),
        ("qqqq", ["known:", "copper"]),
        ("", ["known:", "copper"]),
    ],
)
def test_an_unknown_metal_is_refused_with_the_nearest_ones(word, hints):
    """An ambiguous name is not guessed: silver may be fine or sterling."""
    with pytest.raises(InputError) as caught:
        find_metal(word)
    assert all(hint in str(caught.value) for hint in hints), str(caught.value)


@pytest.mark.parametrize("word", ["galvanised steel", "beryllium copper", "leaded brass"])
def test_a_metal_that_must_not_be_welded_is_refused_with_the_reason(word):
    with pytest.raises(InputError, match=r"must not be welded: .*fume"):
        find_metal(word)


def test_the_users_own_metal_comes_before_the_shipped_one():
    mine = replace(find_metal("copper"), key="copper", density_g_cm3=own_value(8.5, "g/cm3"))
    assert find_metal("Copper", {"copper": mine}) is mine
    assert find_metal("copper").density_g_cm3.usual != 8.5


def test_the_users_own_metal_is_among_the_hints():
    mine = replace(find_metal("copper"), key="examplium", title="Examplium", aliases=())
    with pytest.raises(InputError, match="did you mean 'examplium'"):
        find_metal("exampliun", {"examplium": mine})


def test_a_temper_that_is_not_known_is_refused_with_the_known_ones():
    with pytest.raises(InputError, match="known tempers: annealed"):
        yield_of(find_metal("titanium"), "spring")
