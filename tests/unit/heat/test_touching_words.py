"""What is said of things that stand by while joins are welded: whole sentences."""

from __future__ import annotations

from dataclasses import replace

import pytest

from chainplan.heat.touching_words import say_stand_by, warn_of_spots
from chainplan.model.thermal.touching import SpotTemperature, StandBy


def degrees(body, spot):
    """Usual values and, twenty degrees above, the bad end."""
    return SpotTemperature(
        body_usual_c=body, body_high_c=body + 20.0, spot_usual_c=spot, spot_high_c=spot + 20.0,
        ring_usual_c=400.0, ring_high_c=450.0,
    )  # fmt: skip


STONE = StandBy(
    name="oval stone", kind="amber", limit_c=100.0, conductivity_w_m_k=0.2, fitting=True,
    touching=(14, 15), nearest_mm=1.26, nearest_ring=14, joins_near=6,
    planned=degrees(60.0, 150.0), set_last=degrees(40.0, 130.0), largest_share=0.87,
)  # fmt: skip


def test_a_stone_next_to_joins_is_told_of_in_full():
    """How near, how hot the spot, what setting it last gains, and that it is not enough."""
    assert say_stand_by([STONE], 10.0) == (
        "oval stone: the nearest join is 1.3 mm away (ring 15), 6 joins are within 10 mm. Cover "
        "it from spatter and from the arc's light while these are welded.",
        "oval stone: where rings 15 and 16 touch it, the very spot warms with the ring for some "
        "seconds (up to 87% of the ring's rise): 150 °C at the usual values, 170 at the bad end, "
        "above its limit of 100 °C.",
        "Set oval stone last: weld all other joins first; then 2 joins remain at it (rings 15 and "
        "16), welded one by one from cold, and it reaches 40 °C as a whole (60 at the bad end) and "
        "130 °C (150) where it is touched.",
        "oval stone: its own rings are too hot for it even so (150 °C at the bad end, limit "
        "100 °C). Put it on after welding, through an eye that opens or with a setting closed "
        "cold, or a copper clip between it and the join.",
    )


def test_one_join_right_at_a_clasp_of_metal_is_told_of_in_the_singular():
    """Metal spreads heat, so there is no spot of its own; one join needs no "one by one"."""
    clasp = replace(
        STONE, name="clasp", kind="spring", conductivity_w_m_k=None, touching=(0,), nearest_mm=0.49,
        nearest_ring=0, joins_near=1, limit_c=150.0,
    )  # fmt: skip
    assert say_stand_by([clasp], 8.5) == (
        "clasp: the nearest join is right at it (ring 1), 1 join is within 8.5 mm. Cover it from "
        "spatter and from the arc's light while these are welded.",
        "Set clasp last: weld all other joins first; then 1 join remains at it (ring 1), and it "
        "reaches 40 °C as a whole (60 at the bad end).",
    )


def test_bounds_belong_to_the_calmer_word():
    """Half a millimetre is told as that, and a spot that just reaches its limit keeps it."""
    item = replace(STONE, nearest_mm=0.5, limit_c=170.0, set_last=None)
    near, spot = say_stand_by([item], 10.0)
    assert "the nearest join is 0.5 mm away" in near
    assert spot.endswith("170 at the bad end, its limit is 170 °C.")


@pytest.mark.parametrize(
    ("fitting", "conductivity_w_m_k", "covered"),
    [(True, None, True), (False, 0.2, True), (False, None, False)],
)
def test_what_arc_and_spatter_can_spoil_is_to_be_covered(fitting, conductivity_w_m_k, covered):
    """Fittings, and parts that do not conduct as rings do; not a spring among the rings."""
    item = replace(
        STONE, fitting=fitting, conductivity_w_m_k=conductivity_w_m_k, planned=None, set_last=None
    )
    assert ["Cover it from spatter" in text for text in say_stand_by([item], 10.0)] == (
        [True] * covered
    )


@pytest.mark.parametrize(("gain_k", "said"), [(2.0, False), (2.1, True)])
def test_setting_a_thing_last_is_advised_where_it_gains_what_can_be_measured(gain_k, said):
    """Two degrees of the whole or of the spot; nothing beyond that where it keeps its limit."""
    item = replace(
        STONE, joins_near=0, limit_c=200.0, planned=degrees(60.0, 150.0),
        set_last=degrees(60.0, 150.0 - gain_k),
    )  # fmt: skip
    texts = say_stand_by([item], 10.0)
    assert texts[0].endswith("170 at the bad end, its limit is 200 °C.")
    assert [text.startswith("Set oval stone last") for text in texts[1:]] == [True] * said


def test_what_is_too_hot_in_any_order_is_not_told_to_be_so_even_so():
    """Where setting it last gains nothing, there is nothing that the words could point back to."""
    item = replace(STONE, joins_near=0, touching=(14,), set_last=STONE.planned)
    spot, cold = say_stand_by([item], 10.0)
    assert spot.startswith("oval stone: where ring 15 touches it, the very spot warms")
    assert cold.startswith(
        "oval stone: its own rings are too hot for it (170 °C at the bad end, limit 100 °C). Put it"
    )


def test_only_a_spot_above_its_limit_is_warned_of():
    """Not what no ring touches, what conducts like the rings, and what just keeps its limit."""
    kept = replace(STONE, limit_c=170.0)
    others = (
        replace(STONE, touching=()),
        replace(STONE, conductivity_w_m_k=None),
        replace(STONE, limit_c=None),
        replace(STONE, planned=None),
        kept,
    )
    assert warn_of_spots(others) == ()
    (text,) = warn_of_spots([*others, replace(kept, limit_c=169.9)])
    assert "above its limit of 170 °C" in text
