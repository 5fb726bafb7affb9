"""Which rings stand in the way of a join that nothing reaches."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.reaching.surroundings import turn_about_x

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray
    from chainplan.join.reaching.surroundings import Neighbourhood


class RingsInTheWay(Mapping[int, tuple[int, ...]]):
    """Ring → rings in its way, worked out for a ring when it is asked for.

    A class of rings knows where its blockers stand, seen from the ring; in a piece of a million
    rings, naming them for each would take longer than all the rest.
    """

    def __init__(
        self,
        neighbourhood: Neighbourhood,
        unreached: IndexArray,
        of_ring: IndexArray,
        phase_rad: FloatArray,
        blockers: Mapping[int, tuple[FloatArray, FloatArray]],
    ) -> None:
        self._neighbourhood = neighbourhood
        self._unreached = unreached
        self._of_ring = of_ring
        self._phase_rad = phase_rad
        self._blockers = dict(blockers)

    def __len__(self) -> int:
        return int(self._unreached.size)

    def __iter__(self) -> Iterator[int]:
        return iter(self._unreached.tolist())

    def __getitem__(self, ring: int) -> tuple[int, ...]:
        at = int(np.searchsorted(self._unreached, ring))
        if at >= self._unreached.size or self._unreached[at] != ring:
            raise KeyError(ring)
        places = self._blockers.get(int(self._of_ring[ring]))
        if places is None:
            return ()
        offset, normal = (turn_about_x(part, self._phase_rad[ring]) for part in places)
        found = (
            self._neighbourhood.ring_at(ring, *place) for place in zip(offset, normal, strict=True)
        )
        return tuple(dict.fromkeys(other for other in found if other is not None))
