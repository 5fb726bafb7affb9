"""The chance that limits are kept: simulated and drawn anew from the ranges as they are written.

Links and loss to the air of each end stand in plan.json, so all nine pairs of them are simulated
here, and benches are drawn by another seed: each number's usual value is the median, and one bench
in twenty lies beyond either end. What is compared may be off by what two thousand draws scatter
(four standard deviations), and by the rounding of the network.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.examine.findings import Teller
from chainplan.examine.heat.grips import Grip, touched_c
from chainplan.examine.heat.limits import OFF_K, OFF_SHARE, TENTHS_S
from chainplan.examine.heat.ring_limits import list_limits
from chainplan.examine.heat.simulation import Patch, follow, solve, solve_beside
from chainplan.examine.heat.written import read_network
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.arrays import BoolArray, FloatArray
    from chainplan.examine.heat.simulation import CornerModes, PatchRun
    from chainplan.examine.heat.written import Network
    from chainplan.examine.reading import PieceFiles, PlanFiles

    Warmest = Callable[[PatchRun], tuple[float, float]]

REDRAWN = 300
"""Rings and parts up to which all nine pairs are simulated, whatever they are. Of more, those are
whose modes follow from a pair that is solved: in a piece of one wire all nine. Otherwise three
further solutions would make the examiner dearer than a tenth of the plan: one that a seed chooses
is made beside the five known ones, and the others are what the plan itself says that links move."""
_FILLED_SHARE = 0.06
"""What a pair that is filled in so may change a rise by: the sample chains stay within 3 %."""
DRAWS, RUNS = 20_000, 2000
"""Benches drawn here, and those of a plan."""
_BEYOND, _FURTHEST = 1.6449, 1.6
"""One in twenty lies beyond the ends, which are at ±1; none is drawn beyond the second number."""
_SIGMAS = 4.0
_MOVED_OFF_K = 0.25
"""The same for the difference of two peaks."""
_SHARE_OFF = 0.08
"""What the share of a spread may be off by: a squared rank correlation of two thousand draws."""
_NUMBERS = ("arc share", "links", "loss to the air")
_LINKS = ("poor links", "usual links", "good links")


@check("chances are those of the ranges", apart=True)
def check_chances(files: PlanFiles, teller: Teller) -> None:
    """Draw benches anew; compare the shares that keep each limit and what each number moves."""
    for piece in files.pieces:
        chance = piece.order.get("chance")
        if chance is None:
            continue
        asked = files.value("bench.heat.reserve_percent") / 100
        teller.near(PLAN, f"{piece.name}, chance, asked", chance["asked"], asked, off=1e-6)
        _check_counts(piece, chance, teller)
        _check_benches_said(piece, chance, teller)
        try:
            network = read_network(piece)
        except (ValueError, IndexError):
            continue  # told by the check of the network
        if _corner(network, "poor links") is None or not len(piece.welded):
            continue
        if len(network.capacity) <= REDRAWN or piece.name in files.simulated:
            left = _check_drawn(files, piece, network, chance, teller)
            if left:
                text = f"of nine pairs of links and loss {9 - left} were simulated for its chance"
                teller.note(f"{piece.name}: {text}; the others are as the plan tells them")
        else:
            teller.note(f"{piece.name}: its chance was held against its own sums alone")


def _check_counts(piece: PieceFiles, chance: dict[str, Any], teller: Teller) -> None:
    """Shares are whole numbers of draws, all together below each; what is said is what is so."""
    place, runs = f"{piece.name}, chance", chance["runs"]
    teller.same(PLAN, f"{place}, runs", runs, RUNS)
    aside = {item["name"] for item in piece.order["set_aside"]}
    kept = [row["kept"] for row in chance["by_limit"] if row["name"] not in aside]
    for name, share in (("keeps_all", chance["keeps_all"]), *(("kept", k) for k in kept)):
        whole = runs > 0 and abs(share * runs - round(share * runs)) < 1e-5 * runs
        good = whole and 0 <= share <= 1
        teller.true(PLAN, f"{place}, {name}", good, share, f"a share of {runs} samples")
    least = min(kept, default=1.0)
    good = max(sum(kept) - len(kept) + 1, 0.0) - 1e-5 <= chance["keeps_all"] <= least + 1e-5
    teller.true(PLAN, f"{place}, keeps_all", good, chance["keeps_all"], f"up to {least:g}")
    sure = f"Of {runs} plausible benches"
    known = math.floor(100 * chance["keeps_all"] + 1e-6)
    words: tuple[str, ...] = (sure, f"{known} in 100 plausible benches")
    if chance["asked"] > 0:
        only = "Only " if chance["keeps_all"] < chance["asked"] - 1e-9 else ""
        words = (f"{only}{100 * chance['keeps_all']:.4g} in 100 plausible benches",)
    told = [text for text in piece.order["advice"] if " plausible benches, drawn" in text]
    good = len(told) == 1 and told[0].startswith(words)
    teller.true(PLAN, f"{place}, advice", good, told, " or ".join(words))
    rows = [row for row in chance["by_limit"] if row["sways"]]
    rows = [row for row in rows if row["name"] not in aside] or rows
    worst = min(rows, key=lambda row: (row["kept"], row["limit_c"] - row["nine_in_ten_c"]))
    decides = worst["sways"][0]["number"]
    teller.same(PLAN, f"{place}, decides", chance["decides"], decides)


def _check_benches_said(piece: PieceFiles, chance: dict[str, Any], teller: Teller) -> None:
    """Benches of a hundred that need no pause end to end, and that can follow the order."""
    gains = piece.order["gains"]
    if gains is None:
        return
    place, share = f"{piece.name}, gains, unpaused_kept", gains["unpaused_kept"]
    whole = share is not None and abs(share * chance["runs"] - round(share * chance["runs"])) < 0.1
    good = whole and 0 <= share <= 1
    teller.true(PLAN, place, good, share, f"a share of {chance['runs']} samples")
    told = re.search(
        r"Of 100 plausible benches (\d+) could weld end to end without a pause, and (\d+) can",
        " ".join(piece.order["gained"]),
    )
    if told and good:
        shown = tuple(int(text) for text in told.groups())
        expected = tuple(math.floor(100 * k + 1e-9) for k in (share, chance["keeps_all"]))
        teller.same(PLAN, f"{piece.name}, gained, plausible benches", shown, expected)


@dataclass(frozen=True)
class _Benches:
    """Benches drawn, and the temperatures over the room's at an arc's share of 1."""

    level: FloatArray  # (DRAWS, 3) arc share, links, loss: 0 usual, ±1 the ends
    share: FloatArray  # (DRAWS,) of the arc's energy
    rank: FloatArray  # (3, DRAWS) of the levels

    def warm_k(self, grid: FloatArray) -> FloatArray:
        """Rise of each bench, by the squares of a quadratic through the roots of nine rises."""
        weights = [
            np.stack([at * (at - 1) / 2, 1 - at**2, at * (at + 1) / 2])
            for at in (self.level[:, 1], self.level[:, 2])
        ]
        root = np.einsum("ik,ij,jk->k", weights[0], np.sqrt(grid), weights[1])
        rise: FloatArray = self.share * np.maximum(root, 0.0) ** 2
        return rise


def _draw(shares: tuple[float, float, float]) -> _Benches:
    level = np.random.default_rng(41).standard_normal((DRAWS, 3)) / _BEYOND
    level = np.clip(level, -_FURTHEST, _FURTHEST)
    low, usual, high = np.log(shares)
    arc = level[:, 0]
    ratio = np.where(arc < 0, usual - low, high - usual) * arc
    rank = np.array([_ranks(values) for values in level.T])
    return _Benches(level, np.minimum(np.exp(usual + ratio), 1.0), rank)


def _ranks(values: FloatArray) -> FloatArray:
    """Ranks of values; those that are the same share the mean of theirs."""
    _, place, count = np.unique(values, return_inverse=True, return_counts=True)
    rank: FloatArray = (np.cumsum(count) - (count - 1) / 2)[place]
    return rank


def _corner(network: Network, name: str) -> int | None:
    """Place of a corner by the end of its name."""
    return next((k for k, known in enumerate(network.corners) if known.endswith(name)), None)


def _check_drawn(
    files: PlanFiles, piece: PieceFiles, network: Network, chance: dict[str, Any], teller: Teller
) -> int:
    """Compare what is told with what is drawn; return how many pairs were not simulated."""
    warmest = _limits(files, piece, network)
    told = [(row["name"], round(row["limit_c"], 3)) for row in chance["by_limit"]]
    place = f"{piece.name}, chance, by_limit"
    teller.same(PLAN, place, sorted(told), sorted(warmest))
    rows = [row for row, key in zip(chance["by_limit"], told, strict=True) if key in warmest]
    low, usual = network.corners.index("low"), network.corners.index("usual")
    high = _corner(network, "usual links")
    shares = network.share[[low, usual, usual if high is None else high]]
    drawn = _draw((float(shares[0]), float(shares[1]), float(shares[2])))
    grids = _grids(files, piece, network, [warmest[key] for key in told if key in warmest])
    reserve = files.value("bench.heat.reserve_k")
    aside = {item["name"] for item in piece.order["set_aside"]}
    every = [np.ones(DRAWS, dtype=bool) for _ in (0, 1)]
    for row, pair in zip(rows, grids, strict=True):
        where = f"{place}, {row['name']}"
        filled = bool(np.isnan(pair[0]).any())
        cool, warm = (_filled(grid, row, float(shares[1])) for grid in pair)
        seen = ~np.isnan(pair[0])
        _check_sways(row, (cool, warm), seen, drawn, shares, network.room_c, where, teller)
        limit = row["limit_c"] + reserve + 0.05
        rises = [drawn.warm_k(grid) for grid in (warm, cool)]
        off_share = _FILLED_SHARE if filled else OFF_SHARE
        surely = network.room_c + rises[0] * (1 + off_share) + OFF_K <= limit
        perhaps = network.room_c + rises[1] * (1 - off_share) - OFF_K <= limit
        _check_share(row["kept"], surely, perhaps, chance["runs"], f"{where}, kept", teller)
        if row["name"] not in aside:
            every = [every[0] & surely, every[1] & perhaps]
        off = _SIGMAS * math.sqrt(0.09 * (1 / chance["runs"] + 1 / DRAWS))
        least = network.room_c + float(np.quantile(rises[1], 0.9 - off))
        most = network.room_c + float(np.quantile(rises[0], 0.9 + off))
        slack = OFF_K + off_share * (most - network.room_c)
        good = least - slack <= row["nine_in_ten_c"] <= most + slack
        text = f"{least:.1f} to {most:.1f} °C"
        teller.true(PLAN, f"{where}, nine_in_ten_c", good, row["nine_in_ten_c"], text)
    where = f"{piece.name}, chance, keeps_all"
    _check_share(chance["keeps_all"], every[0], every[1], chance["runs"], where, teller)
    return max((int(np.isnan(cool).sum()) for cool, _ in grids), default=0)


def _filled(grid: FloatArray, row: dict[str, Any], share: float) -> FloatArray:
    """Fill in the pairs that were not simulated by what the plan says that links move."""
    full = grid.copy()
    moved = {item["number"]: item for item in row["sways"]}.get("links", {})
    for place, name in ((0, "low_k"), (2, "high_k")):
        if np.isnan(full[place, 1]):
            full[place, 1] = max(full[1, 1] + moved.get(name, 0.0) / share, 0.0)
        if np.isnan(full[place, 2]):
            full[place, 2] = full[place, 1] * full[1, 2] / max(full[1, 1], 1e-12)
    return full


def _check_share(
    told: float, surely: BoolArray, perhaps: BoolArray, runs: int, place: str, teller: Teller
) -> None:
    """Look whether a share of draws can be what it is said to be."""
    low, high = float(surely.mean()), float(perhaps.mean())
    scatter = [
        _SIGMAS * math.sqrt((share * (1 - share) + 1 / runs) * (1 / runs + 1 / DRAWS))
        for share in (low, high)
    ]
    good = low - scatter[0] <= told <= high + scatter[1]
    text = f"{max(low - scatter[0], 0):.4f} to {min(high + scatter[1], 1):.4f}"
    teller.true(PLAN, place, good, told, text)


def _check_sways(
    row: dict[str, Any], grids: tuple[FloatArray, FloatArray], seen: BoolArray, drawn: _Benches,
    shares: FloatArray, room_c: float, place: str, teller: Teller,
) -> None:  # fmt: skip
    """Compare the usual temperature, what each number moves at its ends, and its share."""
    cool, warm = grids
    usual = float(shares[1] * (cool[1, 1] + warm[1, 1])) / 2
    edge = float(shares[1] * (warm[1, 1] - cool[1, 1])) / 2  # fingers on an edge of a cell
    wide = OFF_K + OFF_SHARE * float(shares[1] * warm[1, 1]) + edge
    near = abs(row["usual_c"] - room_c - usual) <= wide
    teller.true(PLAN, f"{place}, usual_c", near, row["usual_c"], room_c + usual)
    rises = [drawn.warm_k(grid) for grid in grids]
    square = [_shares_of(drawn, rise_k) for rise_k in rises]
    least_spread_k = min(float(np.ptp(rise_k)) for rise_k in rises)
    told = {item["number"]: item for item in row["sways"]}
    teller.same(PLAN, f"{place}, sways, number", sorted(told), sorted(_NUMBERS))
    parts = [item["share"] for item in row["sways"]]
    whole = 1.0 if max(parts) > 0 else 0.0  # nothing moves what is the same on every bench
    good = parts == sorted(parts, reverse=True) and abs(sum(parts) - whole) < 1e-4
    teller.true(PLAN, f"{place}, sways, share", good, parts, "falling shares of 1")
    for k, number in enumerate(_NUMBERS):
        item = told.get(number)
        if item is None:
            continue
        for end, name in ((0, "low_k"), (2, "high_k")):
            if number == "links" and not seen[end, 1]:
                continue  # what is told was taken
            ends = [_moved(grid, shares, number, end) for grid in grids]
            moved = [value - usual for value in ends]
            off = _MOVED_OFF_K + OFF_SHARE * max(map(abs, moved)) + 2 * edge
            least, most = min(moved) - off, max(moved) + off
            text = f"{least:.1f} to {most:.1f} K"
            where = f"{place}, sways, {number}, {name}"
            teller.true(PLAN, where, least <= item[name] <= most, item[name], text)
        if least_spread_k < _MOVED_OFF_K:
            continue  # next to nothing moves it: which number, the network's rounding decides
        own = [float(part[k]) for part in square]
        off = _SHARE_OFF if seen.all() else 2 * _SHARE_OFF
        good = min(own) - off <= item["share"] <= max(own) + off
        text = f"about {sum(own) / 2:.2f}"
        teller.true(PLAN, f"{place}, sways, {number}, share", good, item["share"], text)


def _shares_of(drawn: _Benches, rise_k: FloatArray) -> FloatArray:
    """Squares of the rank correlations with each number, over their sum; nothing if it stays."""
    if not np.ptp(rise_k) > 1e-6 * float(rise_k.max(initial=0.0)):
        return np.zeros(3)
    columns = np.vstack([drawn.rank, _ranks(rise_k)])
    square: FloatArray = np.array(np.corrcoef(columns))[3, :3] ** 2
    return square / float(square.sum())


def _moved(grid: FloatArray, shares: FloatArray, number: str, end: int) -> float:
    """Rise with one number at an end and the others usual. [K]."""
    if number == "arc share":
        return float(shares[end] * grid[1, 1])
    return float(shares[1] * (grid[end, 1] if number == "links" else grid[1, end]))


def _limits(files: PlanFiles, piece: PieceFiles, network: Network) -> dict[Any, Warmest]:
    """Say what each limit looks at in a run: the least and most that it may be read as. [°C]."""
    found: dict[Any, Warmest] = {}
    start = piece.steps["start_s"].astype(float)
    order = np.argsort(start, kind="stable")
    for item in list_limits(files, piece, Teller("")):
        own = item.steps[order]
        if item.row is not None and own.any():

            def before(run: PatchRun, own: BoolArray = own) -> tuple[float, float]:
                node = piece.welded[order]
                warm, slope = run.before_c(node)[own], np.abs(run.slope_k_s(node)[own])
                off = TENTHS_S * slope  # thin wire cools by kelvins in the tenth that times have
                return float((warm - off).max()), float((warm + off).max())

            found[item.name, round(item.limit_c, 3)] = before
    grips = [Grip.of(files, piece, cool=cool) for cool in (True, False)]
    rows = [row for row in piece.order["limits"] if row["kind"] == "fingers"]
    if rows and all(grip is not None for grip in grips):

        def held(run: PatchRun) -> tuple[float, float]:
            warm = touched_c(files, piece, run, network.rings)
            low, high = sorted(grip.warmest_c(warm) for grip in grips if grip is not None)
            return low, high

        found["fingers", round(rows[0]["limit_c"], 3)] = held
    nodes: dict[tuple[str, float], list[int]] = {}
    for k, part in enumerate(network.parts):
        nodes.setdefault((part["name"], round(part["limit_c"], 3)), []).append(network.rings + k)
    for key, own_nodes in nodes.items():

        def peak(run: PatchRun, own_nodes: list[int] = own_nodes) -> tuple[float, float]:
            warm = max(run.peak_c(node) for node in own_nodes)
            return warm, warm

        found[key] = peak
    return found


def _grids(
    files: PlanFiles, piece: PieceFiles, network: Network, warmest: list[Warmest]
) -> list[tuple[FloatArray, FloatArray]]:
    """Rise of each limit at an arc's share of 1 over links (poor to good) and loss (least first).

    Each is read twice, as low and as high as it may be. Of a large piece NaN where nothing was
    simulated.
    """
    whole = len(network.capacity) <= REDRAWN
    chosen = (2 * (sum(map(ord, piece.name)) % 2), 1)  # links poor or good, loss as usual
    places = [_corner(network, name) for name in _LINKS]
    links = [0 if place is None else place for place in places]
    low, usual = network.corners.index("low"), network.corners.index("usual")
    loss = [links[1], usual, low]
    start = piece.steps["start_s"].astype(float)
    order = np.argsort(start, kind="stable")
    set_j = (piece.steps["power_j"] * piece.steps["hits"])[order]
    node = np.arange(len(network.capacity))
    patch = Patch(network, node, order, piece.welded[order], start[order], set_j)
    found = [(np.zeros((3, 3)), np.zeros((3, 3))) for _ in warmest]
    seen = files.simulated.get(piece.name)
    solved: list[tuple[Network, int, CornerModes]] = []
    if seen is not None:
        solved = [(network, k, run.modes) for k, run in enumerate(seen.runs)]
    for (i, one), (j, other) in itertools.product(enumerate(links), enumerate(loss)):
        known = _known_run(files, piece, network, one, other)
        if known is not None:
            run, share = known
            for (cool, warm), look in zip(found, warmest, strict=True):
                least, most = look(run)
                cool[i, j] = max(least - network.room_c, 0.0) / share
                warm[i, j] = max(most - network.room_c, 0.0) / share
            continue
        # At a share of 1 the rise is that of the set energy: it goes in proportion.
        mixed = replace(
            network, conductance=network.conductance[[one]], loss=network.loss[[other]],
            share=np.ones(1),
        )  # fmt: skip
        modes = solve_beside(mixed, 0, solved)
        if modes is None and not whole and (i, j) != chosen:
            for pair in found:
                for grid in pair:
                    grid[i, j] = np.nan
            continue
        if modes is None:
            modes = solve(mixed, 0)
            solved.append((mixed, 0, modes))
        run = follow(mixed, patch, 0, modes)
        for (cool, warm), look in zip(found, warmest, strict=True):
            least, most = look(run)
            cool[i, j] = max(least - network.room_c, 0.0)
            warm[i, j] = max(most - network.room_c, 0.0)
    return found


def _known_run(
    files: PlanFiles, piece: PieceFiles, network: Network, links: int, loss: int
) -> tuple[PatchRun, float] | None:
    """Return the run that the check of the limits made of the same links and loss, if it did."""
    seen = files.simulated.get(piece.name)
    if seen is None:
        return None
    for k in range(len(network.corners)):
        same = np.array_equal(network.conductance[k], network.conductance[links])
        if same and np.array_equal(network.loss[k], network.loss[loss]):
            return seen.runs[k], float(network.share[k])
    return None
