"""Heat limits, cautions, hallmark rules and saw blades."""

import pytest

from chainplan.errors import InputError
from chainplan.reference import cautions, find_part, parts
from chainplan.reference.blades import blade_for, blades
from chainplan.reference.hallmarks import hallmark_rule, struck_fineness
from chainplan.reference.skin import burn_threshold_c, burn_thresholds_c


@pytest.mark.parametrize(
    ("word", "limit_c"),
    [("amber", 100), ("Pearls", 60), ("opal", 50), ("epoxy", 50), ("music-wire spring", 120),
     ("stainless spring", 250), ("leather", 60), ("Lapis lazuli", 60)],
)  # fmt: skip
def test_a_part_is_found_with_its_limit(word, limit_c):
    """The limits that the facts page lists."""
    assert find_part(word).limit_c == limit_c


def test_an_unknown_part_is_refused_with_the_nearest():
    with pytest.raises(InputError, match="did you mean 'opal'"):
        find_part("opel")


def test_no_part_may_be_warmer_than_a_weld():
    """A limit above the melting point of silver would protect nothing."""
    assert all(30 <= limit.limit_c <= 900 for limit in parts().values())


def test_metal_cautions_come_only_with_their_metal():
    sterling = {caution.key for caution in cautions(["sterling-silver"])}
    brass = {caution.key for caution in cautions(["brass", "sterling-silver"])}
    assert "zinc-fume" in brass - sterling
    assert {"eyes", "hot-metal", "argon", "cylinder", "try-on-scrap", "parts"} <= sterling
    assert len(cautions()) > len(brass)


def test_hallmark_limits_are_those_of_the_uk():
    """Hallmarking Act 1973 as the assay offices print it."""
    limits = {
        metal: hallmark_rule("UK", metal).exempt_below_g
        for metal in ("silver", "gold", "palladium", "platinum")
    }
    assert limits == {"silver": 7.78, "gold": 1.0, "palladium": 1.0, "platinum": 0.5}
    assert hallmark_rule("elsewhere", "silver") is None


def test_fineness_is_rounded_down_to_one_that_may_be_struck():
    """No minus tolerance: 588 is struck 585, 584 is struck 375 (Finnish safety authority)."""
    gold = hallmark_rule("UK", "gold")
    assert [struck_fineness(gold, f) for f in (588, 585, 584, 374)] == [585, 585, 375, None]


def test_the_longer_the_contact_the_lower_the_burn_threshold():
    """Bare metal: 51 °C for a minute, 48 for ten, 43 for a day's work (ISO 13732-1)."""
    limits = list(burn_thresholds_c().values())
    assert limits == sorted(limits, reverse=True)
    assert [burn_threshold_c(s) for s in (60, 61, 600, 8 * 3600)] == [51, 48, 48, 43]


def test_blades_stand_thinnest_first_and_the_nearest_is_taken():
    sizes = list(blades().values())
    assert sizes == sorted(sizes)
    assert blade_for(0.2) == "5/0"
    assert blade_for(99) == "6"
