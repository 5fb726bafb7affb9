"""The heat network as it is written: capacities, losses, conductances, parts and clips."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from chainplan.examine.alike import kinds_of_rows
from chainplan.examine.heat.written import read_network
from chainplan.examine.reading import PLAN, RINGS
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.heat.written import Network
    from chainplan.examine.reading import PieceFiles, PlanFiles

ENDS = ("low", "usual", "high")
_SETTLES_S = 0.1
"""Heat over conductance of a spot that follows its ring within a tenth of a second. [s]"""
TOUCHED = ", where touched"


@check("the heat network is one")
def check_network(files: PlanFiles, teller: Teller) -> None:
    """Capacities from mass and specific heat; conductances that rise from poor to good links."""
    for piece in files.pieces:
        heat = piece.record["heat"]
        place = f"{piece.name}, heat"
        try:
            network = read_network(piece)
        except (ValueError, IndexError) as error:
            teller.tell(RINGS, place, error, "kinds and rings that are there")
            continue
        teller.near(PLAN, f"{place}, room_c", heat["room_c"], files.value("bench.heat.room_c"))
        shares = [files.value(f"bench.heat.arc_share_{end}") for end in ENDS]
        for corner in heat["corners"]:
            known = corner["end"] in ENDS
            teller.true(PLAN, f"{place}, corners, end", known, corner["end"], ENDS)
            if known:
                share = shares[ENDS.index(corner["end"])]
                teller.near(PLAN, f"{place}, arc_share", corner["arc_share"], share)
        _check_capacities(files, piece, network, teller)
        _check_losses(files, piece, network, teller)
        reserve_k = files.value("bench.heat.reserve_k")
        names = [part["name"] for part in heat["parts"] if part["body"] is None]
        asked = [part["name"] for part in piece.record["parts"]]
        teller.same(PLAN, f"{place}, parts", sorted(set(names)), sorted(set(asked)))
        _check_places(piece, teller)
        _check_touched(piece, teller)
        for part in heat["parts"]:
            whole = part if part["body"] is None else heat["parts"][part["body"] - 1]
            limits = [
                item["limit_c"] - reserve_k
                for item in piece.record["parts"]
                if item["name"] == whole["name"]
            ]
            good = any(math.isclose(part["limit_c"], limit, rel_tol=1e-5) for limit in limits)
            teller.true(PLAN, f"{place}, parts, limit_c", good, part["limit_c"], limits)


def _check_capacities(
    files: PlanFiles, piece: PieceFiles, network: Network, teller: Teller
) -> None:
    metals, metal = piece.coded("metal")
    for number, key in enumerate(metals):
        own = np.flatnonzero(metal == number)
        density = files.value(f"metal.{key}.density_g_cm3")
        specific = files.value(f"metal.{key}.specific_heat_j_kg_k")
        wire, inner = piece.wire_mm[own], piece.rings["inner_mm"][own]
        expected = density * specific * math.pi**2 * wire**2 * (inner + wire) / 4 * 1e-6
        found = network.capacity[own]
        for row in np.flatnonzero(np.abs(found - expected) > 3e-4 * expected)[:3].tolist():
            place = f"{piece.name}, ring {own[row] + 1}, heat_kind"
            teller.tell(RINGS, place, f"{found[row]:.6g} J/K", f"{expected[row]:.6g} J/K")
    place = f"{piece.name}, heat"
    n = piece.count
    for k, part in enumerate(network.parts):
        rings = np.array(part["rings"]) - 1
        if not len(rings) or rings.min() < 0 or rings.max() >= n:
            teller.tell(PLAN, f"{place}, parts, rings", part["rings"], f"rings 1 to {n}")
            continue
        least = float(network.capacity[rings].min())
        own, like = network.capacity[n + k].item(), 1.0
        if part["body"] is None:
            teller.near(PLAN, f"{place}, parts, capacity_j_k", own, least)
        else:  # a spot follows its ring at once, and loses heat in proportion
            usual = part["joint_w_k"][network.end("usual")[0]][0]
            settled = _SETTLES_S * (usual + part["into_w_k"])
            teller.near(PLAN, f"{place}, parts, capacity_j_k", own, settled, off=1e-4 * settled)
            whole = network.parts[part["body"] - 1]
            rings = np.array(whole["rings"]) - 1
            least = float(network.capacity[rings].min())
            like = settled / least
        lightest = rings[np.abs(network.capacity[rings] - least) < 1e-5 * least]
        for corner in range(len(network.corners)):
            known = network.loss[corner][lightest] * like
            good = np.abs(known - network.loss[corner][n + k]).min() < 1e-4 * known.max() + 1e-12
            value = float(network.loss[corner][n + k])
            teller.true(PLAN, f"{place}, parts, loss_w_k", good, value, float(known[0]))


def _check_touched(piece: PieceFiles, teller: Teller) -> None:
    """Find a spot for each ring that touches what conducts poorly, and what goes in there."""
    nodes = piece.record["heat"]["parts"]
    conducts = {item["name"]: item.get("conductivity_w_m_k") for item in piece.record["stand_by"]}
    for number, body in enumerate(nodes, 1):
        if body["body"] is not None:
            continue
        place = f"{piece.name}, heat, parts, {body['name']}"
        spots = [node for node in nodes if node["body"] == number]
        poor = conducts.get(body["name"])
        wanted = [] if poor is None else body["rings"]
        teller.same(
            PLAN, f"{place}, spots", [spot["rings"] for spot in spots], [[r] for r in wanted]
        )
        direct = len(body["joint_w_k"][0])
        teller.same(PLAN, f"{place}, joint_w_k", direct, len(body["rings"]) if poor is None else 0)
        for spot in spots:
            teller.same(PLAN, f"{place}, spots, name", spot["name"], body["name"] + TOUCHED)
            teller.same(PLAN, f"{place}, spots, limit_c", spot["limit_c"], body["limit_c"])
            if poor is None or len(spot["rings"]) != 1:
                continue
            wire_mm = float(piece.wire_mm[spot["rings"][0] - 1])
            into = 8 / 3 * poor * 0.2e-3 * wire_mm  # middle of a Hertz-like flow on a half-space
            found = spot["into_w_k"]
            teller.near(PLAN, f"{place}, spots, into_w_k", found, into, off=1e-4 * into)


def _check_places(piece: PieceFiles, teller: Teller) -> None:
    """Each part touches the rings at its place; clips carry off what they are said to."""
    heat, x = piece.record["heat"], piece.centre_mm[:, 0]
    half = float(np.median(piece.radius_mm)) / 2
    clips = sum(part["sink_w_k"] for part in piece.record["parts"])
    sunk = sum(item["w_k"] for item in heat["sinks"])
    teller.near(PLAN, f"{piece.name}, parts, sink_w_k", clips, sunk, off=2e-5 * sunk)
    for part in piece.record["parts"]:
        place = f"{piece.name}, parts, {part['name']}"
        if part["stand"] is not None:
            continue  # of a fitting, whose rings are compared with where it stands
        nodes = [node for node in heat["parts"] if node["name"] == part["name"]]
        low = float(x.min()) + part["place_mm"]
        if part["from_end"]:
            low = float(x.max()) - part["place_mm"] - part["length_mm"]
        high = low + part["length_mm"]
        rings = sorted({ring - 1 for node in nodes for ring in node["rings"]})
        if not rings or rings[0] < 0 or rings[-1] >= piece.count:
            continue
        away = np.maximum(np.maximum(low - x, x - high), 0.0)
        twice = sum(other["name"] == part["name"] for other in piece.record["parts"]) > 1
        far = float(away[rings].max())
        there = np.ones(piece.count, dtype=bool)
        if part["row"] is not None:
            there = piece.rings["row"] == part["row"]
        nearest = float(away[there].min(initial=math.inf))
        good = twice or far <= max(half, nearest) + 0.01
        teller.true(
            PLAN, f"{place}, place_mm", good, f"rings {far:.2f} mm off", "rings at its place"
        )
        beside = set(np.flatnonzero(away < half - 0.01).tolist())
        if part["row"] is not None:
            beside &= set(np.flatnonzero(piece.rings["row"] == part["row"]).tolist())
        if part["length_mm"] or part["row"] is not None:
            left = sorted(ring + 1 for ring in beside - set(rings))
            teller.true(PLAN, f"{place}, length_mm", not left, f"rings {left[:5]} left out", "all")


def _check_losses(files: PlanFiles, piece: PieceFiles, network: Network, teller: Teller) -> None:
    """Loss and conductance: positive, in order from end to end, alike for rings of one size."""
    place = f"{piece.name}, heat"
    low, usual, high = (network.end(end) for end in ENDS)
    if not (low and usual and high):
        teller.tell(PLAN, f"{place}, corners", network.ends, "low, usual and high")
        return
    loss, through = network.loss, network.conductance
    good = (loss > 0).all() and (loss[low] >= loss[usual] - 1e-12).all()
    good &= all((loss[usual] >= loss[k] - 1e-12).all() for k in high)
    good &= all((loss[k] == loss[high[0]]).all() for k in high)
    teller.true(PLAN, f"{place}, loss_w_k", good, "out of order", "most at the low end")
    if through.size:
        poor = through[high].min(axis=0)
        best = through[high].max(axis=0)
        middle = through[usual].max(axis=0)
        good = (
            (through > 0).all()
            and (poor <= middle + 1e-12).all()
            and (middle <= best + 1e-12).all()
        )
        good &= (through[low] == through[usual]).all()
        good &= (np.abs(through[high] - middle).min(axis=0) <= 1e-12).all()
        teller.true(PLAN, f"{place}, w_k", good, "out of order", "poor, usual and good links")
    # Rings of one section, metal and size lose alike; per area of wire all of them do.
    area = math.pi**2 * piece.wire_mm * (piece.rings["inner_mm"] + piece.wire_mm)
    metal = piece.coded("metal")[1]
    _, group = kinds_of_rows(piece.rings["section"], metal, piece.wire_mm.round(3))
    for corner in range(len(network.corners)):
        per_area = loss[corner][: piece.count] / area
        for number in range(group.max() + 1):
            own = per_area[group == number]
            spread = float(np.ptp(own)) if own.size else 0.0
            teller.true(
                PLAN, f"{place}, loss_w_k", spread < 1e-3 * own.max(initial=1.0),
                f"differ by {spread:.3g}", "one loss an area in a section",
            )  # fmt: skip
    _check_told_conductances(files, piece, network, teller)


def _check_told_conductances(
    files: PlanFiles, piece: PieceFiles, network: Network, teller: Teller
) -> None:
    """Joints of parts conduct like links: one of the section's own, or of the whole piece."""
    del files
    place = f"{piece.name}, heat, parts, joint_w_k"
    for part in network.parts:
        for corner, values in enumerate(part["joint_w_k"]):
            known = network.conductance[corner][: len(piece.links["kind"])]
            known = known if known.size else np.array(values)
            for value in values:
                good = known.min() - 1e-12 <= value <= known.max() + 1e-12
                teller.true(PLAN, place, good, value, "the conductance of a link")
