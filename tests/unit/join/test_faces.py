"""The fewest faces, and which of them each ring gets."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.join.faces import choose_face_set, choose_faces, count_turns

NO = -np.inf


def test_front_is_taken_where_every_face_would_do():
    """Work starts with the front; nobody turns a piece without need."""
    score = np.zeros((5, 3))
    faces = choose_face_set(score, np.ones(5, dtype=int))
    assert faces == (0,)
    assert choose_faces(score, faces).tolist() == [0] * 5


def test_clearly_better_single_face_is_taken_before_the_front():
    """As few turns, better joins."""
    score = np.tile([1.0, 2.0, 0.0], (4, 1))
    assert choose_face_set(score, np.ones(4, dtype=int)) == (1,)


def test_second_face_is_taken_only_when_a_ring_needs_it():
    """One ring that the front does not reach makes the back worth a turn."""
    score = np.array([[1.0, 1.0, NO], [1.0, NO, NO], [NO, 1.0, NO]])
    weight = np.ones(3, dtype=int)
    faces = choose_face_set(score, weight)
    assert faces == (0, 1)
    assert choose_faces(score, faces).tolist() == [0, 0, 1]
    weight[2] = 0  # closed beforehand
    assert choose_face_set(score, weight) == (0,)


def test_ring_that_nothing_reaches_gets_no_face():
    """And does not stand in the way of the others."""
    score = np.array([[1.0, NO, NO], [NO, NO, NO]])
    faces = choose_face_set(score, np.ones(2, dtype=int))
    assert faces == (0,)
    assert choose_faces(score, faces).tolist() == [0, -1]


@pytest.mark.parametrize(
    ("faces", "turns"), [([-1], 0), ([0, 0], 0), ([0, 1, -1], 1), ([2, 1, 0], 2)]
)
def test_turns_are_counted_between_faces(faces, turns):
    """Joins of one face are welded together, so n faces take n − 1 turns."""
    assert count_turns(np.array(faces, dtype=np.int8)) == turns


@given(
    rows=st.lists(st.tuples(*[st.one_of(st.just(NO), st.floats(0, 5))] * 3), min_size=1, max_size=8)
)
def test_no_smaller_set_of_faces_reaches_every_ring(rows):
    """Brute force over all sets of faces."""
    score = np.array(rows)
    faces = choose_face_set(score, np.ones(len(rows), dtype=int))
    reachable = score[np.isfinite(score).any(axis=1)]
    needed = 0
    if len(reachable):
        needed = min(
            size
            for size in (1, 2, 3)
            for some in itertools.combinations(range(3), size)
            if np.isfinite(reachable[:, some]).any(axis=1).all()
        )
    assert len(faces) == needed
    given_face = choose_faces(score, faces)
    for row, face in zip(score, given_face.tolist(), strict=True):
        assert (face == -1) == (not np.isfinite(row).any())
        assert face == -1 or (np.isfinite(row[face]) and face in faces)
