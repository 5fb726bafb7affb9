"""What the user should know of the joins of a piece, a sentence each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import Form

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.arrays import BoolArray
    from chainplan.join.spread import RingJoins
    from chainplan.model.piece.layout import Layout


def list_warnings(
    layout: Layout,
    joins: RingJoins,
    spot_mm: Sequence[float],
    pre_closed: BoolArray,
    unreached: BoolArray,
    wanted: BoolArray,
) -> tuple[str, ...]:
    """Say what the user should know of these joins, a sentence each."""
    texts = []
    loose = np.array([section.form == Form.LOOSE for section in layout.sections])
    woven = ~loose[layout.section]
    here = ~pre_closed
    for number in range(len(layout.materials)):
        own = here & (layout.material == number) & woven
        name = layout.material_name(number)
        tight = own & (joins.spot_gap_mm < spot_mm[number] / 2)
        if tight.any():
            least = float(joins.spot_gap_mm[tight].min())
            texts.append(
                f"{name}: at {np.count_nonzero(tight)} joins another wire is nearer ({least:.2f} "
                f"mm at least) than the molten spot's radius ({spot_mm[number] / 2:.2f} mm): the "
                "bead may fuse two rings; part them while welding or use a smaller spot"
            )
        single = own & wanted & ~joins.both_sides
        if single.any():
            texts.append(
                f"{name}: {np.count_nonzero(single)} joins of heavy wire are reached from one "
                "side only, though pulses from two sides are wanted"
            )
    count = int(np.count_nonzero(unreached))
    if count:
        first = ", ".join(str(ring + 1) for ring in np.flatnonzero(unreached)[:5].tolist())
        texts.append(
            f"the electrode does not reach {count} joins (rings {first}"
            f"{' …' if count > 5 else ''}): they are closed before weaving"
        )
    return tuple(texts)
