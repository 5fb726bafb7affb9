"""One face for every ring, on as few faces as possible, because turning the piece costs time."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from chainplan.join.tuning import tuning

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IndexArray


def list_face_sets(count: int) -> list[tuple[int, ...]]:
    """List the sets of faces from few to many; of equal ones the front first, the edges last."""
    return [some for size in range(1, count + 1) for some in combinations(range(count), size)]


def choose_face_set(
    score: FloatArray, weight: IndexArray, *, used: tuple[int, ...] = ()
) -> tuple[int, ...]:
    """Choose the fewest faces from which every reachable ring is reached.

    Parameters
    ----------
    score : array, shape (k, faces)
        How good the best join is from each face; −inf where the face does not reach.
    weight : array of int, shape (k,)
        How many rings each row stands for; rows of weight 0 do not count.
    used : tuple of int
        Faces that are worked on anyway and so cost no turn.

    Returns
    -------
    tuple of int
        Face codes, the one with which work starts first. Of equally few faces those with the
        better joins are taken. Empty where nothing is to be reached.
    """
    rows = (weight > 0) & np.isfinite(score).any(axis=1)
    if not rows.any():
        return used
    score, weight = score[rows], weight[rows]
    best: tuple[int, ...] = ()
    best_value = -np.inf
    for some in list_face_sets(score.shape[1]):
        if not set(used) <= set(some):
            continue
        faces = (*used, *(face for face in some if face not in used))
        if best and len(faces) > len(best):
            break
        value = score[:, faces].max(axis=1)
        if not np.isfinite(value).all():
            continue
        mean = float(np.average(value, weights=weight))
        if mean > best_value + tuning().better_face:
            best, best_value = faces, mean
    return best


def choose_faces(score: FloatArray, faces: tuple[int, ...]) -> npt.NDArray[np.int8]:
    """Give each row one face of a set: the first unless another is clearly better, −1 for none.

    Rows that no face of the set reaches take their best face outside it.
    """
    chosen = np.full(score.shape[0], -1, dtype=np.int8)
    best = np.full(score.shape[0], -np.inf)
    for face in faces:
        better = score[:, face] > best + tuning().better_face
        chosen[better] = face
        best[better] = score[better, face]
    left = (chosen < 0) & np.isfinite(score).any(axis=1)
    chosen[left] = score[left].argmax(axis=1)
    return chosen


def count_turns(faces: npt.NDArray[np.int8]) -> int:
    """How often the piece is turned when all joins of a face are welded together."""
    used = np.unique(faces[faces >= 0]).size
    return max(int(used) - 1, 0)
