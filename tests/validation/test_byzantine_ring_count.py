"""A maker's count of rings for Byzantine chains.

Source: published how-to article on ring counts for Byzantine necklaces: 20 AWG wire on a 2.75 mm
mandrel gives 33 rings per inch, stretched out. 20 AWG is 0.8118 mm (ASTM B258, from memory). Rings
come out 1 to 5 % larger than the mandrel (common practice, no source), and the count is printed as
a whole number: the computed counts at both ends of the springback must take it in between them.
"""

from __future__ import annotations

import pytest

from chainplan.weave.library import load_weave
from chainplan.weave.solving.cache import solve_cached

WIRE_MM = 0.8118
MANDREL_MM = 2.75
COUNTED_PER_INCH = 33
MM_PER_INCH = 25.4


def rings_per_inch(growth: float) -> float:
    """Computed count for rings that came out so much larger than the mandrel."""
    repeat = solve_cached(load_weave("byzantine"), MANDREL_MM * growth / WIRE_MM)
    return repeat.rings / (repeat.vectors[0, 0] * WIRE_MM) * MM_PER_INCH


def test_counted_rings_lie_between_the_ends_of_the_springback():
    """Half a ring is what printing a whole number hides."""
    most, fewest = rings_per_inch(1.01), rings_per_inch(1.05)
    assert fewest - 0.5 <= COUNTED_PER_INCH <= most + 0.5


def test_counted_rings_agree_within_two_per_cent_in_the_middle_of_the_springback():
    """At 3 % the computed count should be the printed one within its own rounding, and a little."""
    assert rings_per_inch(1.03) == pytest.approx(COUNTED_PER_INCH, rel=0.02)


def test_plain_double_link_would_not_give_the_count():
    """The check has teeth: the weave that a bad seed slips into is off by a third."""
    aspect_ratio = MANDREL_MM * 1.03 / WIRE_MM
    repeat = solve_cached(load_weave("double-link"), aspect_ratio)
    per_inch = repeat.rings / (repeat.vectors[0, 0] * WIRE_MM) * MM_PER_INCH
    assert per_inch < 0.65 * COUNTED_PER_INCH
