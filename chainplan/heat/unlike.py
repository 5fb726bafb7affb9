"""Rings of two metals that touch: nothing is welded between them, but a bead may fuse them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.metal import Metal
    from chainplan.model.piece.layout import Layout


def unlike_cautions(layout: Layout, metals: Mapping[str, Metal]) -> tuple[str, ...]:
    """Say where rings of two metals touch, and which of them melts first.

    Contacts of rings that are linked or lie against each other; a sentence for each two metals.
    """
    names = sorted({item.metal for item in layout.materials})
    if len(names) < 2:
        return ()
    number = np.array([names.index(item.metal) for item in layout.materials])[layout.material]
    first, second = np.sort(number[layout.contacts], axis=1).T
    codes, places = np.unique((first * len(names) + second)[first != second], return_counts=True)
    found = []
    for code, count in zip(codes.tolist(), places.tolist(), strict=True):
        pair = [metals[names[k]] for k in divmod(code, len(names))]
        low, high = sorted(pair, key=lambda metal: metal.solidus_c.usual)
        said = [metal.key.replace("-", " ") for metal in (low, high)]
        spots = "one place" if count == 1 else f"{count} places"
        found.append(
            f"rings of {said[0]} and of {said[1]} touch at {spots}: they are not welded to each "
            f"other, but {said[0]} begins to melt at {low.solidus_c.usual:.0f} °C, "
            f"{high.solidus_c.usual - low.solidus_c.usual:.0f} K before {said[1]}, and a bead "
            "that reaches over fuses the two: part them while welding"
        )
    return tuple(found)
