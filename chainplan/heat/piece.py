"""The heat model of one piece: its networks, kernels and simulations, each made when asked for."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import Fault, InputError
from chainplan.frozen import frozen
from chainplan.heat.conductance.contact import CONTACT_SOURCE
from chainplan.heat.following.kernels import build_kernels
from chainplan.heat.following.modes import (
    find_modes,
    shift_modes,
    simulate_modes,
    temperatures_by_modes,
)
from chainplan.heat.following.sums import simulate_sums, temperatures_by_sums
from chainplan.heat.hot_zone import find_uneven, hot_zones
from chainplan.heat.network import (
    BAD_CORNERS,
    BETWEEN,
    CORNERS,
    PieceHeat,
    corner_network,
    piece_heat,
)
from chainplan.heat.part_nodes import part_nodes
from chainplan.heat.placing import place_parts
from chainplan.heat.ring_limits import ring_limits
from chainplan.heat.tuning import tuning
from chainplan.heat.unlike import unlike_cautions
from chainplan.model.thermal.heat import HeatLevel, PartNode
from chainplan.model.thermal.kernels import WeldTimes

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IntArray
    from chainplan.heat.placing import PlacedPart
    from chainplan.model.bench.groups import HeatSettings
    from chainplan.model.job import HeatSensitivePart
    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout
    from chainplan.model.thermal.heat import HeatNetwork, HeatRun, HotZone, Modes, RingLimit
    from chainplan.model.thermal.kernels import KernelTable
    from chainplan.model.thermal.uneven import Uneven

    Assumption = tuple[str, float, float, float, str, str]

FINGER_W_K = 0.003
"""What one held ring passes to the skin: judgement, 1 to 12 mW/K, a few mm² of contact through
skin of 0.2 to 0.4 W/(m K) some tenths of a millimetre thick; only for rings held still. [W/K]"""


@frozen
class PieceHeatModel:
    """Heat of one copy of a piece at all corners of the uncertain numbers.

    Networks, kernel tables and eigen-solutions are made when first asked for and kept.
    """

    piece: str
    corners: tuple[str, ...]
    bad_corners: tuple[str, ...]
    networks: Mapping[str, HeatNetwork]
    parts: tuple[PartNode, ...]
    hot_zones: tuple[HotZone, ...]
    uneven: Uneven
    assumptions: tuple[Assumption, ...]
    ring_limits: tuple[RingLimit, ...] = ()
    cautions: tuple[str, ...] = ()
    grid: tuple[HeatLevel, ...] = ()
    _kernels: dict[str, KernelTable] = field(default_factory=dict, repr=False, compare=False)
    _modes: dict[str, Modes] = field(default_factory=dict, repr=False, compare=False)

    @property
    def exact(self) -> bool:
        """Whether simulations are exact (modal) and not kernel sums."""
        return len(self.networks[self.corners[0]].capacity_j_k) <= tuning().largest_modal

    def judged_at(self, bad_corners: tuple[str, ...]) -> PieceHeatModel:
        """Give the same model with other corners for its bad end; what is solved is shared."""
        return replace(self, bad_corners=bad_corners)

    def unsolved(self) -> PieceHeatModel:
        """Give the same model with nothing solved: small enough to send or keep."""
        return replace(self, _kernels={}, _modes={})

    def kernels(self, corner: str) -> KernelTable:
        """Kernel table of one corner."""
        if corner not in self._kernels:
            self._kernels[corner] = build_kernels(self._network(corner))
        return self._kernels[corner]

    def modes(self, corner: str) -> Modes:
        """Eigen-solution of one corner; small pieces only (see ``exact``)."""
        if corner not in self._modes:
            network = self._network(corner)
            alike = (
                shift_modes(self._network(known), modes, network)
                for known, modes in self._modes.items()
            )
            found = next((modes for modes in alike if modes is not None), None)
            self._modes[corner] = find_modes(network) if found is None else found
        return self._modes[corner]

    def simulate(
        self,
        corner: str,
        ring: IntArray,
        start_s: FloatArray,
        at_s: FloatArray | None = None,
        *,
        peaks_of: Sequence[int] | None = None,
    ) -> HeatRun:
        """Simulate welding ``ring[k]`` at ``start_s[k]``; temperatures of all nodes at ``at_s``.

        Up to 2000 nodes the eigen-solution makes it exact at any spacing in time; above, sums of
        kernels leave out at most ``dropped_k`` of the run. ``peaks_of``: nodes whose peaks between
        welds are looked for; None: of all, which takes most of the time.

        Raises
        ------
        InputError
            If the two arrays differ in length, a ring is not there, or a time is not finite.
        """
        network, ring, start = self._run(corner, ring, start_s)
        if len(ring) == 0:
            return _no_welds(network, at_s)
        if self.exact:
            return simulate_modes(network, self.modes(corner), ring, start, at_s, peaks_of=peaks_of)
        return simulate_sums(network, self.kernels(corner), ring, start, at_s, peaks_of=peaks_of)

    def temperatures_c(
        self, corner: str, ring: IntArray, start_s: FloatArray, node: IntArray, at_s: FloatArray
    ) -> FloatArray:
        """Temperature of ``node[k]`` at ``at_s[k]`` in a run of welds, shape (k,). [°C].

        As ``simulate`` tells of all nodes, but only what is asked for: of a large piece that is
        far less work. A weld at the very moment counts.

        Raises
        ------
        InputError
            If ring and start differ in length, a ring is not there, or a time is not finite.
        """
        network, ring, start = self._run(corner, ring, start_s)
        if len(ring) == 0:
            return np.asarray(network.base_c[node], dtype=np.float64)
        if self.exact:
            return temperatures_by_modes(network, self.modes(corner), ring, start, node, at_s)
        return temperatures_by_sums(network, self.kernels(corner), ring, start, node, at_s)

    def touched_c(
        self, corner: str, ring: IntArray, start_s: FloatArray, node: IntArray, at_s: FloatArray
    ) -> FloatArray:
        """Temperature of ``node[k]`` at ``at_s[k]`` where it is hottest, which fingers may touch.

        As ``temperatures_c``; of a ring whose wire takes seconds to even out, at its join. [°C]
        """
        node, at_s = np.asarray(node), np.asarray(at_s, dtype=np.float64)
        mean = self.temperatures_c(corner, ring, start_s, node, at_s)
        if not self.uneven.spread_s.any():
            return mean
        network, ring, start = self._run(corner, ring, start_s)
        rise = network.own_rise_k
        for welded in WeldTimes(len(rise), ring, start).layers if len(ring) else ():
            mean = mean + self.uneven.at_join_k(rise, welded, node, at_s)
        return mean

    def _run(
        self, corner: str, ring: IntArray, start_s: FloatArray
    ) -> tuple[HeatNetwork, IntArray, FloatArray]:
        """Check a run of welds; its network, rings and times as arrays."""
        network = self._network(corner)
        ring = np.asarray(ring, dtype=np.int32)
        start = np.asarray(start_s, dtype=np.float64)
        _check_run(ring, start, len(network.join_heat_j))
        return network, ring, start

    def _network(self, corner: str) -> HeatNetwork:
        try:
            return self.networks[corner]
        except KeyError:
            message = f"heat: no corner {corner!r}; known: {', '.join(self.corners)}"
            raise InputError(message) from None


def _check_ranges(settings: HeatSettings) -> None:
    """Refuse ranges that stand the wrong way round."""
    faults = []
    for stem in ("arc_share_{}", "link_load_{}_mn"):
        names = [stem.format(level) for level in ("low", "usual", "high")]
        values = [getattr(settings, name) for name in names]
        if values != sorted(values):
            found = ", ".join(
                f"{name} {value:g}" for name, value in zip(names, values, strict=True)
            )
            faults.append(Fault("bench settings, heat", found, "must rise from low to high"))
    if faults:
        raise InputError(faults=faults)


def _check_run(ring: IntArray, start: FloatArray, rings: int) -> None:
    if ring.shape != start.shape or ring.ndim != 1:
        message = f"heat: {ring.size} rings but {start.size} start times; one each is needed"
        raise InputError(message)
    _check_rings(ring, rings)
    if not np.isfinite(start).all():
        message = "heat: a start time is not a finite number of seconds"
        raise InputError(message)


def _check_rings(ring: Sequence[int] | IntArray, rings: int) -> None:
    number = np.asarray(ring, dtype=np.int64)
    wrong = number[(number < 0) | (number >= rings)]
    if wrong.size:
        message = f"heat: ring {int(wrong[0]) + 1} is not on this piece; rings 1 to {rings} are"
        raise InputError(message)


def _no_welds(network: HeatNetwork, at_s: FloatArray | None) -> HeatRun:
    from chainplan.model.thermal.heat import HeatRun

    at_c = None if at_s is None else np.tile(network.base_c, (len(at_s), 1))
    return HeatRun(
        corner=network.corner,
        before_c=np.zeros(0),
        peak_c=network.base_c.copy(),
        at_c=at_c,
    )


def build_heat_model(
    layout: Layout,
    *,
    metals: Mapping[str, Metal],
    join_heat_set_j: npt.ArrayLike,
    settings: HeatSettings,
    parts: Sequence[HeatSensitivePart] = (),
    held_rings: Sequence[int] = (),
    held_w_k: float = FINGER_W_K,
    sinks: Mapping[int, float] | None = None,
) -> PieceHeatModel:
    """Build the heat model of one copy of a piece.

    Parameters
    ----------
    layout : Layout
        The piece.
    metals : mapping of str to Metal
        By the key that the layout's materials name.
    join_heat_set_j : array_like, shape (n,)
        Power × hits that the welder is set to for each ring's join, before the arc's share. [J]
    settings : HeatSettings
        Ranges of the uncertain numbers and the room's temperature.
    parts : sequence of HeatSensitivePart, optional
        Each becomes a node (a long one several).
    held_rings : sequence of int, optional
        Rings held in one place all the time: sinks at the fingers' temperature. Fingers that move
        along with the weld are left out: they would only cool what is hotter than the skin.
    held_w_k : float, optional
        Conductance of each of those to the skin. [W/K]
    sinks : mapping of int to float, optional
        Copper block, pliers …: ring → what it takes at room temperature. [W/K]

    Returns
    -------
    PieceHeatModel

    Raises
    ------
    InputError
        If a metal is missing, a part lies off the piece, a heat is negative or not finite, or a
        range of the settings stands the wrong way round.
    """
    _check_ranges(settings)
    _check_rings((*held_rings, *(sinks or {})), layout.rings)
    if held_w_k < 0 or any(value < 0 for value in (sinks or {}).values()):
        message = f"heat: piece {layout.piece!r} has a heat sink that is negative"
        raise InputError(message)
    heat_set = np.broadcast_to(np.asarray(join_heat_set_j, dtype=np.float64), (layout.rings,))
    if not (np.isfinite(heat_set).all() and (heat_set >= 0).all()):
        message = f"heat: piece {layout.piece!r} has a join heat that is negative or no number"
        raise InputError(message)
    placed = place_parts(layout, parts)
    together = piece_heat(
        layout,
        metals=metals,
        settings=settings,
        parts=placed,
        fingers=(held_rings, held_w_k),
        sinks=sinks or {},
    )
    small = len(together.capacity_j_k) <= tuning().largest_modal
    levels = (*CORNERS, *BETWEEN) if small else CORNERS
    networks = {
        corner.name: corner_network(corner, together, heat_set, settings) for corner in levels
    }
    shares = (settings.arc_share_low, settings.arc_share_usual, settings.arc_share_high)
    grid = tuple(
        HeatLevel(
            corner=item.name,
            links=item.links,
            loss=item.loss,
            arc_share=shares[item.arc_share],
        )
        for item in (levels if small else ())
    )
    usual = networks["usual"]
    made_of = [metals[material.metal] for material in layout.materials]
    zones = hot_zones(
        layout,
        made_of,
        loss_w_k=usual.loss_w_k[: layout.rings],
        capacity_j_k=usual.capacity_j_k[: layout.rings],
        join_heat_j=usual.join_heat_j,
    )
    uneven = find_uneven(layout, made_of)
    return PieceHeatModel(
        piece=layout.piece,
        corners=tuple(corner.name for corner in CORNERS),
        bad_corners=BAD_CORNERS,
        grid=grid,
        networks=networks,
        parts=tuple(
            PartNode(
                name=item.name,
                node=item.node,
                limit_c=item.part.limit_c - settings.reserve_k,
                near_rings=item.rings,
                body=item.body,
            )
            for item in part_nodes(layout.rings, placed)
        ),
        hot_zones=zones,
        uneven=uneven,
        assumptions=_assumptions(layout, settings, together),
        ring_limits=ring_limits(layout, metals, settings),
        cautions=(
            *unlike_cautions(layout, metals),
            *_cautions(zones),
            *_touching_cautions(placed, uneven),
        ),
    )


def _assumptions(
    layout: Layout, settings: HeatSettings, together: PieceHeat
) -> tuple[Assumption, ...]:
    """List every uncertain number: name, low, usual, high, unit, source."""
    rows: list[Assumption] = [
        (
            "share of the set energy that stays in the ring",
            settings.arc_share_low,
            settings.arc_share_usual,
            settings.arc_share_high,
            "",
            "assumption: published arc efficiency 0.36 to 0.90 less losses; no calorimetry of a "
            "hand-held pulse was found",
        ),
        (
            "force between linked rings",
            settings.link_load_low_mn,
            settings.link_load_usual_mn,
            settings.link_load_high_mn,
            "mN",
            "judgement; the high one is shared by links side by side",
        ),
        ("room", settings.room_c, settings.room_c, settings.room_c, "°C", "bench setting"),
    ]
    several = len(layout.sections) > 1
    for index, section in enumerate(layout.sections):
        tail = f", section {index + 1} ({section.weave})" if several else ""
        link, film, share = (
            together.link_w_k[index],
            together.film_w_m2_k[index],
            together.exposure[index],
        )
        scale = 1000.0
        rows.append(
            (
                f"conductance of a link{tail}",
                link.low * scale,
                link.usual * scale,
                link.high * scale,
                "mW/K",
                CONTACT_SOURCE,
            )
        )
        rows.append(
            (f"film coefficient{tail}", film.low, film.usual, film.high, "W/(m² K)", film.source)
        )
        rows.append(
            (
                f"exposure to the air{tail}",
                share.low,
                share.usual,
                share.high,
                "",
                f"{share.source}; calibrate with one cooling curve",
            )
        )
    return tuple(rows)


def _cautions(zones: Sequence[HotZone]) -> tuple[str, ...]:
    """Say where one temperature a ring is too simple."""
    return tuple(
        f"section {zone.section + 1}: the welded ring{_named(zones, zone)} takes about "
        f"{3 * zone.spread_time_s:.0f} s to even out; until then its join is hotter than the "
        "ring's mean that is shown, and fingers count as holding it there"
        for zone in zones
        if zone.spread_time_s > 1.0
    )


def _touching_cautions(placed: Sequence[PlacedPart], uneven: Uneven) -> Iterator[str]:
    """Say of parts on rings that are slow to even out where their joins have to lie."""
    for name in dict.fromkeys(item.name for item in placed):
        rings = {ring for item in placed if item.name == name for ring in item.rings}
        if any(uneven.spread_s[ring] > 0 for ring in rings):
            yield (
                f"{name}: of each ring that touches it keep the join a quarter of the ring or more "
                "away from it: nearer, the spot is hotter than told for some seconds"
            )


def _named(zones: Sequence[HotZone], zone: HotZone) -> str:
    """Name the metal where its section has several."""
    metals = {other.metal for other in zones if other.section == zone.section}
    return f" of {zone.metal.replace('-', ' ')}" if len(metals) > 1 else ""
