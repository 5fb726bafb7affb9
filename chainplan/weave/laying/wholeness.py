"""Whether a section hangs together, from its links; if not, which rows or repeats would.

A sheet cut after any row may end in rings whose links all lie in the row that was cut away: they
would be counted, welded and priced, and fall off.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.errors import Refusal, WeaveError
from chainplan.model.kinds import Form
from chainplan.weave.laying.tiling import Tiler
from chainplan.weave.solving.kept import recall, remember

if TYPE_CHECKING:
    from chainplan.arrays import IntArray
    from chainplan.model.piece.weave import Repeat, Weave
    from chainplan.weave.laying.tiling import RowPlan


def label_parts(links: IntArray, rings: int) -> IntArray:
    """Give every ring the number of the part that it hangs together with, shape (rings,)."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    ones = np.ones(len(links), dtype=np.int8)
    graph = coo_matrix((ones, (links[:, 0], links[:, 1])), shape=(rings, rings))
    labels: IntArray = connected_components(graph, directed=False)[1].astype(np.int32)
    return labels


def check_whole(repeat: Repeat, grid: RowPlan, weave: Weave, rows: int, repeats: int) -> None:
    """Refuse rows or repeats that leave rings linked to nothing.

    Raises
    ------
    WeaveError
        Saying how many rings would fall off, and the nearest rows or the least repeats that hold.
    """
    if _is_whole(repeat, grid, rows, repeats):
        return
    labels = _labels(repeat, grid, rows, repeats)
    off = np.flatnonzero(labels != int(np.bincount(labels).argmax())) + 1
    named = ", ".join(str(ring) for ring in off[:6].tolist()) + (" …" if off.size > 6 else "")
    size = _say(rows, "row") if weave.form != Form.CHAIN else _say(repeats, "repeat")
    wide = [n for n in _nearest(rows, grid) if _is_whole(repeat, grid, n, repeats)]
    near = [n for n in wide if n < rows][:1] + [n for n in wide if n > rows][:1]
    long = [n for n in range(repeats + 1, repeats + 9) if _is_whole(repeat, grid, rows, n)][:1]
    if weave.form != Form.CHAIN and near:
        remedy = f"the nearest that hold are {' and '.join(str(n) for n in near)} rows"
        remedy = f"at least {near[0]} rows" if near[0] > rows else remedy
    elif long:
        rings = long[0] * labels.size // repeats
        remedy = f"at least {long[0]} repeats, {rings} rings"
    else:
        remedy = "its links never hold it together: correct the weave file"
    found = (
        f"{weave.title} of {size} leaves {off.size} of {labels.size} rings ({named}) hanging on "
        "nothing"
    )
    raise WeaveError(Refusal(found, remedy))


def _say(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _nearest(rows: int, grid: RowPlan) -> list[int]:
    """Other numbers of rows, the nearest first."""
    others = [n for step in range(1, 2 * grid.rows + 2) for n in (rows - step, rows + step)]
    return [n for n in others if n > 0]


def _labels(repeat: Repeat, grid: RowPlan, rows: int, repeats: int) -> IntArray:
    tiler = Tiler(repeat, grid, rows)
    links = tiler.join_pairs(repeat.links, repeats, closed=False)
    return label_parts(links, tiler.rings_per_cell * repeats)


def _is_whole(repeat: Repeat, grid: RowPlan, rows: int, repeats: int) -> bool:
    """Whether all rings hang together.

    Stretches of a few repeats that hold, and overlap, make any number of repeats hold; so only a
    short one has to be looked at, and the whole where that does not hold by itself.
    """
    reach = max(int(np.abs(repeat.links[:, 2]).max(initial=1)), 1)
    short = min(repeats, 2 * reach + 1)
    return any(_holds(repeat, grid, rows, n) for n in dict.fromkeys((short, repeats)))


_held: dict[tuple[object, ...], bool] = {}
_MOST_HELD = 4096
"""Answers that are kept: jobs repeat their weaves and rows, in rings of other sizes."""


def _holds(repeat: Repeat, grid: RowPlan, rows: int, repeats: int) -> bool:
    key = (repeat.links.tobytes(), repeat.vectors.tobytes(), grid, rows, repeats)
    if key not in _held:
        if len(_held) >= _MOST_HELD:
            _held.clear()
        holds: bool | None = recall("holds", *key)
        if holds is None:
            holds = not bool(_labels(repeat, grid, rows, repeats).any())
            remember(holds, "holds", *key)
        _held[key] = holds
    return _held[key]
