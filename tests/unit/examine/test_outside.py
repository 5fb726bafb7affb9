"""A patch of a large sheet with lumps around it feels welds far off, as the whole sheet does."""

from __future__ import annotations

import numpy as np

from chainplan.examine.heat import outside, simulation
from chainplan.examine.heat.simulation import cut_patch, follow, solve
from chainplan.examine.heat.written import Network

SIDE = 30


def sheet() -> Network:
    """A square sheet of equal rings that conduct well, each linked to four others."""
    number = np.arange(SIDE * SIDE).reshape(SIDE, SIDE)
    pairs = np.concatenate(
        [
            np.stack([number[:, :-1].ravel(), number[:, 1:].ravel()], axis=1),
            np.stack([number[:-1].ravel(), number[1:].ravel()], axis=1),
        ]
    )
    size = number.size
    return Network(
        capacity=np.full(size, 0.05), loss=np.full((1, size), 2e-4), pairs=pairs,
        conductance=np.full((1, len(pairs)), 0.1), sink=np.zeros(size),
        sink_c=np.full(size, 20.0), share=np.array([0.1]), room_c=20.0, rings=size,
        corners=("usual",), ends=("usual",), parts=(),
    )  # fmt: skip


def last_before_c(network: Network, welded: np.ndarray) -> tuple[float, int]:
    """Temperature before the last weld, and how many nodes were solved. [°C]."""
    start_s = 5.0 * np.arange(1, len(welded) + 1)
    seeds = welded[-1:]
    patch = cut_patch(network, seeds, welded, start_s, np.full(len(welded), 200.0))
    run = follow(network, patch, 0, solve(patch.network, 0))
    row = int(np.flatnonzero(patch.weld == len(welded) - 1)[0])
    return float(run.before_c(patch.place)[row]), len(patch.network.capacity)


def test_lumps_bring_the_heat_of_welds_beyond_the_patch(monkeypatch) -> None:
    """All rings in a chance order: in the middle, at an edge and in a corner."""
    network, rng = sheet(), np.random.default_rng(1)
    off_k = np.zeros(2)
    for last in (SIDE * SIDE // 2 + SIDE // 2, SIDE // 2, 0):
        order = rng.permutation(SIDE * SIDE)
        welded = np.append(order[order != last], last)
        monkeypatch.setattr(simulation, "LARGEST", 10_000)
        whole, _ = last_before_c(network, welded)
        monkeypatch.setattr(simulation, "LARGEST", 240)
        lumped, nodes = last_before_c(network, welded)
        assert nodes < 140
        monkeypatch.setattr(outside, "LUMPS", 0)
        alone, _ = last_before_c(network, welded)
        monkeypatch.undo()
        assert abs(lumped - whole) < 0.05 * (whole - 20.0), (last, lumped, whole)
        off_k += abs(lumped - whole), abs(alone - whole)
    assert off_k[1] > 4 * off_k[0], off_k


def test_no_heat_is_lost_to_lumps() -> None:
    """Capacity and loss of all lumps are those of the rings around the patch."""
    network = sheet()
    inside = np.zeros(SIDE * SIDE, dtype=bool)
    inside[SIDE * SIDE // 2] = True
    inside, _ = outside.grow(network, inside, 80)
    lumped, place = outside.lump_outside(network, inside)
    assert (place >= 0).all()
    np.testing.assert_allclose(lumped.capacity.sum(), network.capacity.sum())
    np.testing.assert_allclose(lumped.loss.sum(), network.loss.sum())


def test_of_a_long_chain_only_what_is_felt_is_solved(monkeypatch) -> None:
    """A ring feels some dozens on either side, and so its patch tells what the whole chain does."""
    size = 900
    number = np.arange(size)
    network = Network(
        capacity=np.full(size, 0.05), loss=np.full((1, size), 4e-3),
        pairs=np.stack([number[:-1], number[1:]], axis=1),
        conductance=np.full((1, size - 1), 0.02), sink=np.zeros(size),
        sink_c=np.full(size, 20.0), share=np.array([0.1]), room_c=20.0, rings=size,
        corners=("usual",), ends=("usual",), parts=(),
    )  # fmt: skip
    order = np.random.default_rng(3).permutation(size)
    for last in (0, 30, size // 2):
        welded = np.append(order[order != last], last)
        alone, nodes = last_before_c(network, welded)
        assert nodes < simulation.LARGEST // 6
        monkeypatch.setattr(simulation, "LARGEST", 10_000)
        whole, every = last_before_c(network, welded)
        monkeypatch.undo()
        assert every == size
        assert abs(alone - whole) < 1e-4, last


def test_a_sheet_feels_more_than_its_patch() -> None:
    """Where heat comes from beyond the rim, nothing is cut off."""
    network = sheet()
    inside = np.zeros(SIDE * SIDE, dtype=bool)
    inside[SIDE * SIDE // 2 + SIDE // 2] = True
    inside, links = outside.grow(network, inside, 80)
    assert outside.find_felt(network, inside, links) is None
