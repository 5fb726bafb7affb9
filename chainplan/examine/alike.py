"""Rows that are alike: columns of a table put into kinds, without sorting what is all the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from chainplan.arrays import IndexArray

_LARGEST = 2**31
"""Number of a kind from which one more column could lead beyond whole numbers."""


def kinds_of_texts(texts: list[str]) -> tuple[list[str], IndexArray]:
    """Sort the words of a column, each once, and tell which of them each row has.

    Examples
    --------
    >>> kinds_of_texts(["silver", "copper", "silver"])
    (['copper', 'silver'], array([1, 0, 1]))
    """
    words = sorted(set(texts))
    place = {word: k for k, word in enumerate(words)}
    if len(words) < 2:
        return words, np.zeros(len(texts), dtype=np.intp)
    return words, np.fromiter(map(place.__getitem__, texts), dtype=np.intp, count=len(texts))


def kinds_of_rows(*columns: np.ndarray) -> tuple[IndexArray, IndexArray]:
    """Find one row of each kind, kinds in the order of their columns, and the kind of every row.

    Examples
    --------
    >>> kinds_of_rows(np.array([2, 1, 2, 2]), np.array([0.5, 0.5, 0.5, 0.1]))
    (array([1, 3, 0]), array([2, 0, 2, 1]))
    """
    count = len(columns[0])
    kind = np.zeros(count, dtype=np.intp)
    for column in columns:
        if count and (column == column[0]).all():
            continue
        values, place = np.unique(column, return_inverse=True)
        kind = kind * len(values) + place.ravel()
        if kind.max() > _LARGEST:  # numbers it anew, in the same order
            kind = np.unique(kind, return_inverse=True)[1].ravel()
    if not count or (kind == kind[0]).all():
        return np.zeros(min(count, 1), dtype=np.intp), np.zeros(count, dtype=np.intp)
    _, first, place = np.unique(kind, return_index=True, return_inverse=True)
    return first, place.ravel()
