"""Comparing weaves: who is linked to whom in the endless weave, and what shape it takes.

The link graph of an endless weave is told apart by its *shells*: from each ring of the repeat, how
many rings are 1, 2, 3 … links away. Weaves with other shells are other weaves. Weaves with the
same shells may still lie in space in different ways (Byzantine and a double link): those are told
apart by the shape of their solved repeats at one aspect ratio.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from math import gcd
from typing import TYPE_CHECKING

import numpy as np

from chainplan.model.kinds import Form
from chainplan.weave.shape.poses import turn_about_x
from chainplan.weave.tuning import tuning

if TYPE_CHECKING:
    from collections.abc import Iterable

    from chainplan.arrays import FloatArray
    from chainplan.model.piece.weave import Repeat, Weave

    Step = tuple[int, int, int]


def _list_steps(weave: Weave) -> dict[int, list[Step]]:
    """From each ring of the repeat: the rings it is linked to, as (ring, along, across)."""
    steps: dict[int, list[Step]] = defaultdict(list)
    for i, j, along, across in weave.links.tolist():
        steps[i].append((j, along, across))
        steps[j].append((i, -along, -across))
    return steps


def count_links(weave: Weave) -> tuple[int, ...]:
    """Return how many rings each ring of the repeat goes through, inside an endless weave."""
    steps = _list_steps(weave)
    return tuple(len(steps[ring]) for ring in range(len(weave.ring_class)))


def count_shells(weave: Weave, shells: int | None = None) -> tuple[tuple[int, ...], ...]:
    """Count the rings 1, 2, … links away from each ring of the repeat; sorted, each kind once."""
    steps = _list_steps(weave)
    shells = shells or tuning().shells
    found = set()
    for ring in range(len(weave.ring_class)):
        seen: set[Step] = {(ring, 0, 0)}
        edge = [(ring, 0, 0)]
        counts = []
        for _ in range(shells):
            following = []
            for k, along, across in edge:
                for j, a, b in steps[k]:
                    place = (j, along + a, across + b)
                    if place not in seen:
                        seen.add(place)
                        following.append(place)
            counts.append(len(following))
            edge = following
        found.add(tuple(counts))
    return tuple(sorted(found))


def count_parts(weave: Weave) -> int:
    """Into how many separate pieces the endless weave falls; 0 when the repeats hang apart.

    Rings are walked along the links; what a closed walk shifts by spans a lattice, and the weave
    is one piece when the repeat is connected and that lattice is all of the repeats.
    """
    steps = _list_steps(weave)
    place: dict[int, tuple[int, int]] = {}
    groups = 0
    shifts: set[tuple[int, int]] = set()
    for first in range(len(weave.ring_class)):
        if first in place:
            continue
        groups += 1
        place[first] = (0, 0)
        queue = [first]
        while queue:
            k = queue.pop()
            for j, a, b in steps[k]:
                reached = (place[k][0] + a, place[k][1] + b)
                if j not in place:
                    place[j] = reached
                    queue.append(j)
                elif reached != place[j]:
                    shifts.add((reached[0] - place[j][0], reached[1] - place[j][1]))
    if weave.form == Form.SHEET:
        index = gcd(*(a[0] * b[1] - a[1] * b[0] for a, b in combinations(sorted(shifts), 2)))
    else:
        index = gcd(*(shift[0] for shift in shifts))
    return groups * index


def measure_shape(repeat: Repeat) -> FloatArray:
    """Measure a solved repeat so that two of them can be compared ring by ring.

    Parameters
    ----------
    repeat
        A solved repeat.

    Returns
    -------
    array, shape (9,)
        Rings per length of a chain or per area of a sheet, width, thickness; least, mean and
        largest distance of linked centres; the same of the cosine between linked rings. Lengths in
        wire diameters of class 0. They do not depend on which rings make up the repeat.
    """
    i, j, along, across = repeat.links.T
    spin = turn_about_x(along * repeat.turn_rad)
    centre = np.einsum("pij,pj->pi", spin, repeat.centre[j]) + along[:, None] * repeat.vectors[0]
    normal = np.einsum("pij,pj->pi", spin, repeat.normal[j])
    size = float(repeat.vectors[0, 0])
    width = repeat.width
    if len(repeat.vectors) > 1:
        centre = centre + across[:, None] * repeat.vectors[1]
        size *= float(repeat.vectors[1, 1])
        width = 0.0
    apart = np.linalg.norm(centre - repeat.centre[i], axis=1)
    cosine = np.abs(np.einsum("pi,pi->p", normal, repeat.normal[i]))
    measures = [repeat.rings / size, width, repeat.thickness]
    for values in (apart, cosine):
        measures += [values.min(), values.mean(), values.max()]
    return np.array(measures)


def is_same_shape(one: Repeat, other: Repeat) -> bool:
    """Whether two repeats of one aspect ratio are one geometry, within ``tuning().same_shape``."""
    if len(one.vectors) != len(other.vectors):
        return False
    return bool(
        np.allclose(
            measure_shape(one),
            measure_shape(other),
            rtol=tuning().same_shape,
            atol=tuning().same_shape,
        )
    )


def find_same_links(weave: Weave, others: Iterable[Weave]) -> tuple[Weave, ...]:
    """Return those weaves whose link graph cannot be told from this one's by its shells."""
    shells = count_shells(weave)
    return tuple(
        other
        for other in others
        if other is not weave
        and (other.form == Form.SHEET) == (weave.form == Form.SHEET)
        and count_shells(other) == shells
    )
