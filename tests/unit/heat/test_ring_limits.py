"""How warm rings may be before their welds: closed forms, and which limits are listed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.heat.ring_limits import even_weld_limit_c, heat_share, ring_limits
from chainplan.model.bench.groups import HeatSettings
from chainplan.model.order import LimitKind
from chainplan.reference import find_metal
from chainplan.reference.metals import metals


@pytest.fixture
def ring_chain(chain):
    """Ten rings."""
    return chain(10)


def limits_of(layout, metal, temper="annealed", **settings):
    section = replace(layout.sections[0], metal=metal, temper=temper)
    layout = replace(layout, sections=(section,))
    return ring_limits(layout, {metal: find_metal(metal)}, HeatSettings(**settings))


def test_the_share_of_the_way_to_the_solidus_is_a_straight_line():
    """12 % of the way from 21 °C to a solidus of 803 °C is 93.84 K."""
    silver = find_metal("sterling-silver")
    solidus = silver.solidus_c.usual
    assert even_weld_limit_c(silver, 21.0, 0.12) == pytest.approx(21.0 + 0.12 * (solidus - 21.0))
    assert even_weld_limit_c(silver, 21.0, 0.0) == 21.0
    assert even_weld_limit_c(silver, 21.0, 1.0) == pytest.approx(solidus)
    assert 80.0 < even_weld_limit_c(silver, 21.0, 0.12) - 21.0 < 130.0


def test_the_share_of_the_heat_to_melt_counts_the_heat_of_fusion():
    """Recomputed by hand: cp·ΔT over mean cp·(liquidus − room) + latent heat."""
    for metal in metals().values():
        to_melt = metal.mean_specific_heat_j_kg_k.usual * (metal.liquidus_c.usual - 21.0)
        to_melt += 1000.0 * metal.latent_heat_kj_kg.usual
        expected = 90.0 * metal.specific_heat_j_kg_k.usual / to_melt
        assert heat_share(metal, 111.0, 21.0) == pytest.approx(expected)
        limit_c = even_weld_limit_c(metal, 21.0, 0.12)
        assert 0.0 < heat_share(metal, limit_c, 21.0) < 0.12  # the way is the more cautious one


def test_copper_darkens_before_it_is_too_warm_for_even_welds(ring_chain):
    """The least of the limits is listed, one that is nowhere the least is not."""
    (found,) = limits_of(ring_chain, "copper")
    assert (found.kind, found.name) == (LimitKind.METAL, "darkening, copper")
    assert (found.limit_c == 120.0).all()
    assert "minutes" in found.why
    assert "J. Electrochem. Soc. 126 (1979) 1274-1281, from memory" in found.why


def test_silver_has_no_limit_of_its_own_below_that_for_even_welds(ring_chain):
    """Many metals do nothing that matters before they are too warm to weld evenly."""
    (found,) = limits_of(ring_chain, "sterling-silver")
    assert found.kind is LimitKind.SAMENESS
    assert found.limit_c[0] == pytest.approx(
        even_weld_limit_c(find_metal("sterling-silver"), 21.0, 0.12)
    )
    (stain,) = limits_of(ring_chain, "sterling-silver", warm_share=0.0)
    assert (stain.name, stain.limit_c[0]) == ("firestain, sterling silver", 500.0)
    assert limits_of(ring_chain, "gold-18ct-yellow", warm_share=0.0) == ()


def test_softening_counts_for_drawn_wire_alone(ring_chain):
    """Soft wire cannot soften."""
    names = {
        temper: {item.name for item in limits_of(ring_chain, "copper", temper, warm_share=0.3)}
        for temper in ("annealed", "hard")
    }
    assert names["annealed"] == names["hard"] == {"darkening, copper"}  # it darkens before
    hard = find_metal("copper").limits
    assert {item.effect: item.tempers for item in hard}["softening"] == (
        "half-hard", "hard", "spring",
    )  # fmt: skip


def test_each_section_has_the_limits_of_its_own_metal(ring_chain):
    """Copper and silver in one piece: every ring has one limit, by its metal."""
    first = ring_chain.sections[0]
    section = np.zeros(ring_chain.rings, dtype=np.int32)
    section[ring_chain.rings // 2 :] = 1
    layout = replace(
        ring_chain,
        section=section,
        sections=(replace(first, metal="copper"), replace(first, metal="sterling-silver")),
    )
    both = {name: find_metal(name) for name in ("copper", "sterling-silver")}
    found = ring_limits(layout, both, HeatSettings())
    assert [item.name for item in found] == [
        "darkening, copper",
        "even welds, sterling silver",
    ]
    least = np.min([item.limit_c for item in found], axis=0)
    assert (least[section == 0] == 120.0).all()
    assert (least[section == 1] < 120.0).all()
    assert np.isinf(found[0].limit_c[section == 1]).all()
