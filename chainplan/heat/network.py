"""The thermal network of a piece at each corner of the uncertain numbers."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import InputError
from chainplan.frozen import frozen
from chainplan.heat.conductance.air import film_range_w_m2_k
from chainplan.heat.conductance.contact import (
    AIR_W_MK,
    ARGON_W_MK,
    DEFAULT_HARDNESS_GPA,
    WireSurface,
    contact_conductance_w_k,
    load_of_conductance_mn,
)
from chainplan.heat.conductance.exposure import envelope_share, exposure_of_section, links_per_ring
from chainplan.heat.part_nodes import join_parts
from chainplan.model.metal import Value
from chainplan.model.thermal.heat import HeatNetwork
from chainplan.reference import hardness_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.heat.placing import PlacedPart
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout


CALIBRATED_SPREAD = 0.15  # judgement: what a second cooling curve of the same piece may differ by
_LEAST_SHARED_LOAD = 1 / 15  # of the high load; judgement: tight places of a wide piece keep 2 g


@frozen
class Corner:
    """Which end of each uncertain number a corner takes: 0 low, 1 usual, 2 high."""

    name: str
    arc_share: int
    links: int
    loss: int


CORNERS = (
    Corner(name="low", arc_share=0, links=1, loss=2),
    Corner(name="usual", arc_share=1, links=1, loss=1),
    Corner(name="hot, poor links", arc_share=2, links=0, loss=0),
    Corner(name="hot, usual links", arc_share=2, links=1, loss=0),
    Corner(name="hot, good links", arc_share=2, links=2, loss=0),
)
"""Temperatures rise with the arc's share and fall with the loss to air, so those two stand at
their hot ends in every bad corner. They neither only rise nor only fall with the conductance of
links: end to end a wide sheet is warmest with poor links, a chain with good ones, and with every
11th join a chain is 7 K warmer at the middle than at either end. So both ends *and* the middle are
bad corners. What lies between those is warmer by at most 7 % of the rise in all that was tried
(chains, strips, sheets); that is tested, not proved."""

BETWEEN = (
    Corner(name="usual, poor links", arc_share=1, links=0, loss=1),
    Corner(name="usual, good links", arc_share=1, links=2, loss=1),
    Corner(name="cool, poor links", arc_share=1, links=0, loss=2),
    Corner(name="cool, good links", arc_share=1, links=2, loss=2),
)
"""What the corners leave out of the grid of links and loss; for chance alone."""

BAD_CORNERS = tuple(corner.name for corner in CORNERS if corner.name.startswith("hot"))


@frozen
class PieceHeat:
    """What the network is made of, each uncertain part as three arrays: low, usual, high."""

    capacity_j_k: FloatArray  # (N,)
    loss_w_k: tuple[FloatArray, FloatArray, FloatArray]  # (N,) each
    pairs: IntArray  # (M, 2)
    pair_w_k: tuple[FloatArray, FloatArray, FloatArray]  # (M,) each
    sink_w_k: FloatArray  # (N,)
    sink_c: FloatArray  # (N,)
    film_w_m2_k: tuple[Value, ...]  # by section
    exposure: tuple[Value, ...]  # by section
    link_w_k: tuple[Value, ...]  # by section, one link between equal rings


def ring_capacity_j_k(layout: Layout, metals: Mapping[str, Metal]) -> FloatArray:
    """Heat capacity of every ring: mass of the torus times specific heat. [J/K].

    ``C = ρ·c_p·π²·d²·(ID + d)/4``, exact for round wire (Pappus).
    """
    factor = np.array(
        [
            _metal(metals, material.metal).density_g_cm3.usual
            * _metal(metals, material.metal).specific_heat_j_kg_k.usual
            * 1e-6
            for material in layout.materials
        ]
    )
    volume_mm3 = math.pi**2 * layout.wire_mm**2 * (2 * layout.mean_radius_mm) / 4
    capacity: FloatArray = factor[layout.material] * volume_mm3
    return capacity


def ring_surface_mm2(layout: Layout) -> FloatArray:
    """Outer surface of every ring, ``π·d·π·(ID + d)``. [mm²]."""
    area: FloatArray = math.pi**2 * layout.wire_mm * 2 * layout.mean_radius_mm
    return area


def _metal(metals: Mapping[str, Metal], key: str) -> Metal:
    try:
        return metals[key]
    except KeyError:
        known = ", ".join(sorted(metals))
        message = f"heat: metal {key!r} is not among those given ({known})"
        raise InputError(message) from None


def _exposures(layout: Layout, settings: HeatSettings) -> tuple[Value, ...]:
    if settings.exposure > 0:
        own = Value(
            usual=settings.exposure,
            low=settings.exposure * (1 - CALIBRATED_SPREAD),
            high=settings.exposure * (1 + CALIBRATED_SPREAD),
            unit="",
            source="bench setting, ±15 %",
        )
        return (own,) * len(layout.sections)
    found = []
    for index, section in enumerate(layout.sections):
        share = exposure_of_section(section.form, section.rows, links_per_ring(layout, index))
        envelope = min(envelope_share(layout, index), share.usual)
        found.append(replace(share, low=max(share.low, envelope)))
    return tuple(found)


def _losses(
    layout: Layout,
    metals: Mapping[str, Metal],
    settings: HeatSettings,
    exposures: Sequence[Value],
) -> tuple[tuple[FloatArray, FloatArray, FloatArray], tuple[Value, ...]]:
    """Loss of each ring to the air, low, usual, high, and the film coefficient by section."""
    area_m2 = ring_surface_mm2(layout) * 1e-6
    losses = (np.zeros(layout.rings), np.zeros(layout.rings), np.zeros(layout.rings))
    films: list[Value] = []
    for index, material in enumerate(layout.materials):
        glow = _metal(metals, material.metal).emissivity
        film = film_range_w_m2_k(
            material.wire_mm, (glow.low, glow.usual, glow.high), settings.room_c
        )
        share = exposures[material.section]
        here = layout.material == index
        for loss, one_film, one_share in zip(
            losses, film, (share.low, share.usual, share.high), strict=True
        ):
            loss[here] = one_film * one_share * area_m2[here]
        if len(films) == material.section:
            films.append(
                Value(
                    low=film[0],
                    usual=film[1],
                    high=film[2],
                    unit="W/(m² K)",
                    source="Churchill & Chu 1975, Morgan 1975 (from memory), grey radiation; "
                    "surface at 40, 60 and 150 °C",
                )
            )
    return losses, tuple(films)


def _surface(metal: Metal, temper: str, wire_mm: float, mean_radius_mm: float) -> WireSurface:
    hardness = hardness_of(metal, temper)
    return WireSurface(
        radius_mm=wire_mm / 2,
        inner_radius_mm=mean_radius_mm - wire_mm / 2,
        conductivity_w_mk=metal.conductivity_w_m_k.usual,
        modulus_gpa=metal.modulus_gpa.usual,
        hardness_gpa=hardness.usual if hardness is not None else DEFAULT_HARDNESS_GPA,
    )


def links_side_by_side(layout: Layout) -> FloatArray:
    """Links that share a pull along the piece, by section: ``Σ|Δx| of links / length``, ≥ 1."""
    first, second = layout.links[:, 0], layout.links[:, 1]
    reach = np.abs(layout.centre_mm[first, 0] - layout.centre_mm[second, 0])
    if layout.loop is not None:  # it is laid straight: its ends link round, not across
        reach = np.minimum(reach, np.abs(float(layout.loop.shift_mm[0]) - reach))
    inside = layout.section[first] == layout.section[second]
    total = np.bincount(
        layout.section[first][inside], reach[inside], minlength=len(layout.sections)
    )
    length = np.array([max(section.length_mm, 1e-9) for section in layout.sections])
    together: FloatArray = np.maximum(total / length, 1.0)
    return together


def _pair_conductances(
    layout: Layout, metals: Mapping[str, Metal], settings: HeatSettings
) -> tuple[IntArray, tuple[FloatArray, FloatArray, FloatArray]]:
    """Pairs that conduct, links first, then contacts that are no links; low, usual, high. [W/K]."""
    n = layout.rings
    links = layout.links.astype(np.int64)
    contacts = layout.contacts.astype(np.int64).reshape(-1, 2)
    extra = contacts[~np.isin(contacts[:, 0] * n + contacts[:, 1], links[:, 0] * n + links[:, 1])]
    pairs = np.concatenate([links, extra]).astype(np.int32)
    linked = np.arange(len(pairs)) < len(links)
    ring_kinds, ring_kind = np.unique(
        np.column_stack([layout.material, layout.mean_radius_mm]).round(9),
        axis=0,
        return_inverse=True,
    )
    ring_kind = ring_kind.ravel()
    ends = np.sort(ring_kind[pairs], axis=1)
    code = (ends[:, 0] * len(ring_kinds) + ends[:, 1]) * 2 + linked
    codes, code = np.unique(code, return_inverse=True)
    together = links_side_by_side(layout)
    table = np.zeros((3, len(codes)))
    for index, packed in enumerate(codes):
        both, is_link = divmod(int(packed), 2)
        rows = [ring_kinds[number] for number in divmod(both, len(ring_kinds))]
        kinds = [layout.materials[int(row[0])] for row in rows]
        one, other = (
            _surface(_metal(metals, kind.metal), kind.temper, kind.wire_mm, row[1])
            for kind, row in zip(kinds, rows, strict=True)
        )
        share = max(1 / min(together[kind.section] for kind in kinds), _LEAST_SHARED_LOAD)
        light, usual_load = settings.link_load_low_mn, settings.link_load_usual_mn
        heavy = max(settings.link_load_high_mn * share, usual_load)
        # rings that only touch carry none of the pull
        loads_mn = (light, usual_load, heavy) if is_link else (0.0, light, usual_load)
        for level, (load_mn, gas) in enumerate(
            zip(loads_mn, (ARGON_W_MK, AIR_W_MK, AIR_W_MK), strict=True)
        ):
            table[level, index] = contact_conductance_w_k(
                one, other, load_mn, gas, linked=bool(is_link)
            )
    low, usual, high = (row[code] for row in table)
    return pairs, (low, usual, high)


def link_load_mn(
    layout: Layout, metals: Mapping[str, Metal], section: int, link_w_k: float
) -> float:
    """Find the load under which a link of a section conducts as much. [mN].

    A conductance below that of the gas alone, or beyond what 100 N gives, comes back as the nearest
    load that there is.
    """
    here = layout.sections[section]
    ring = here.first_ring
    made_of = layout.materials[int(layout.material[ring])]
    wire = _surface(
        _metal(metals, made_of.metal),
        made_of.temper,
        float(layout.wire_mm[ring]),
        float(layout.mean_radius_mm[ring]),
    )
    return load_of_conductance_mn(wire, wire, link_w_k)


def _link_values(
    layout: Layout, pairs: IntArray, levels: tuple[FloatArray, ...]
) -> tuple[Value, ...]:
    """Median conductance of a link in each section."""
    first, second = layout.section[pairs[: len(layout.links)]].T
    values = []
    for index in range(len(layout.sections)):
        here = np.flatnonzero(first == index)
        if not here.size:  # connecting rings at the end, which only hang in another section
            here = np.flatnonzero(second == index)
        low, usual, high = (float(np.median(level[here])) if here.size else 0.0 for level in levels)
        source = "contact model: loads and gas gap as in the settings"
        values.append(Value(low=low, usual=usual, high=high, unit="W/K", source=source))
    return tuple(values)


def _sinks(
    nodes: int,
    parts: Sequence[PlacedPart],
    fingers: tuple[Sequence[int], float],
    blocks_w_k: Mapping[int, float],
    settings: HeatSettings,
) -> tuple[FloatArray, FloatArray]:
    """Conductance of every node to sinks, and their mean temperature. [W/K], [°C]."""
    sink_w_k = np.zeros(nodes)
    sink_c = np.full(nodes, settings.room_c)
    for part in parts:
        for ring in part.rings:
            sink_w_k[ring] += part.sink_w_k / len(part.rings)
    for ring, block_w_k in blocks_w_k.items():
        sink_w_k[ring] += block_w_k
    held, grip_w_k = fingers
    for ring in held:
        total = sink_w_k[ring] + grip_w_k
        if total > 0:
            mixed = sink_w_k[ring] * sink_c[ring] + grip_w_k * settings.finger_c
            sink_c[ring] = mixed / total
            sink_w_k[ring] = total
    return sink_w_k, sink_c


def piece_heat(
    layout: Layout,
    *,
    metals: Mapping[str, Metal],
    settings: HeatSettings,
    parts: Sequence[PlacedPart] = (),
    fingers: tuple[Sequence[int], float] = ((), 0.0),
    sinks: Mapping[int, float] | None = None,
) -> PieceHeat:
    """Put together capacities, losses, conductances and sinks of a piece.

    A heat-sensitive part is one more node: as heavy as the lightest ring it touches, with that
    ring's loss to air, joined to each ring near it like a link. What conducts poorly is joined
    through a node for each spot that a ring touches, right behind its own. A clip between it and
    the joins is a sink at room temperature, shared among those rings.

    Parameters
    ----------
    layout : Layout
        The piece.
    metals : mapping of str to Metal
        By the key that the sections name.
    settings : HeatSettings
        Ranges and room temperature.
    parts : sequence of PlacedPart
        Parts with the rings that they touch.
    fingers : tuple of (rings, float)
        Rings held in one place all the time, and what each of them gives to the skin. [W/K]
    sinks : mapping of int to float, optional
        Ring → what a copper block takes from it at room temperature. [W/K]
    """
    exposures = _exposures(layout, settings)
    ring_loss, films = _losses(layout, metals, settings, exposures)
    pairs, ring_pair = _pair_conductances(layout, metals, settings)
    capacity = ring_capacity_j_k(layout, metals)
    links = _link_values(layout, pairs, ring_pair)
    more = join_parts(layout, parts, links, capacity, ring_loss)
    loss = [np.concatenate(both) for both in zip(ring_loss, more.loss_w_k, strict=True)]
    pair = [np.concatenate(both) for both in zip(ring_pair, more.pair_w_k, strict=True)]
    capacity = np.concatenate([capacity, more.capacity_j_k])
    sink_w_k, sink_c = _sinks(len(capacity), parts, fingers, sinks or {}, settings)
    return PieceHeat(
        capacity_j_k=capacity,
        loss_w_k=(loss[0], loss[1], loss[2]),
        pairs=np.concatenate([pairs, more.pairs]),
        pair_w_k=(pair[0], pair[1], pair[2]),
        sink_w_k=sink_w_k,
        sink_c=sink_c,
        film_w_m2_k=films,
        exposure=exposures,
        link_w_k=links,
    )


def corner_network(
    corner: Corner, heat: PieceHeat, join_heat_set_j: FloatArray, settings: HeatSettings
) -> HeatNetwork:
    """Network of one corner."""
    share = (settings.arc_share_low, settings.arc_share_usual, settings.arc_share_high)
    bare = HeatNetwork(
        corner=corner.name,
        capacity_j_k=heat.capacity_j_k,
        pairs=heat.pairs,
        pair_w_k=heat.pair_w_k[corner.links],
        loss_w_k=heat.loss_w_k[corner.loss],
        sink_w_k=heat.sink_w_k,
        sink_c=heat.sink_c,
        ambient_c=settings.room_c,
        base_c=np.full(len(heat.capacity_j_k), settings.room_c),
        join_heat_j=join_heat_set_j * share[corner.arc_share],
    )
    drive = bare.sink_w_k * (bare.sink_c - settings.room_c)
    if not drive.any():
        return bare
    from scipy.sparse.linalg import spsolve

    from chainplan.heat.matrix import conductance_matrix

    steady = spsolve(conductance_matrix(bare).tocsc(), drive)
    return replace(bare, base_c=settings.room_c + np.atleast_1d(steady))
