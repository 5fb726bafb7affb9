"""Stored starts and kept solutions: sound, of the present weave files, converged, not blended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from chainplan.errors import CannotBeWoven
from chainplan.weave import find_smallest_aspect_ratio, load_weave, solve_cached, weave_keys
from chainplan.weave.shape.poses import order_links, read_seed
from chainplan.weave.solving import cache, starts
from chainplan.weave.solving.cache import SOLVED_FOLDER, Entry, find_entry, fingerprint, read_starts
from chainplan.weave.solving.solver import find_smallest, find_test, is_sound, solve_poses

QUICK = ("single-link", "european-4-in-1", "double-link", "triple-link", "byzantine")
"""Weaves that solve from their seed in a second or so."""


@pytest.fixture(name="stored_of")
def fixture_stored_of(remake):
    """The stored states of a weave; a test that finds none says what makes them."""

    def find(weave, state):
        entry = find_entry(weave, state)
        assert entry is not None, f"{weave.key}, {state}: {remake}"
        return entry

    return find


def some_stored(count, seed, keys, stored_of):
    """A random sample, by an explicit seed, of (weave, grid point) of the taut table."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        weave = load_weave(keys[rng.integers(len(keys))])
        entry = stored_of(weave, "taut")
        number = int(rng.integers(len(entry.ratio)))
        yield weave, entry.poses(number, read_seed(weave))


@pytest.mark.parametrize("key", weave_keys())
def test_stored_starts_are_of_the_weave_file_as_it_is(key, remake):
    """A file changed after its starts were solved would be solved from its seed, slowly."""
    weave = load_weave(key)
    assert str(read_starts(key).get("fingerprint", "none")) == fingerprint(weave), remake
    assert find_entry(weave, "taut") is not None
    assert find_entry(weave, "gathered") is not None


def test_only_weaves_of_the_library_have_stored_starts(remake):
    """What is left of a weave that is gone would be shipped for ever."""
    assert {file.stem for file in SOLVED_FOLDER.iterdir()} == set(weave_keys()), remake


@pytest.fixture
def short_grid(monkeypatch):
    """A library of one weave whose grid has a few points, so that it is solved in a second."""
    monkeypatch.setattr(starts, "weave_keys", lambda: ("single-link",))
    with starts.tuning.using(replace(starts.tuning(), grid_reach=1.06)):
        yield


def test_starts_are_solved_where_they_are_missing_and_left_where_they_are_not(short_grid, tmp_path):
    """One file a weave: two people who add a weave each do not write the same file."""
    gone = tmp_path / "gone.npz"
    gone.write_bytes(b"of a weave that is no longer there")
    steps = []
    made = starts.make_starts(folder=tmp_path, on_step=lambda *step: steps.append(step))
    assert [file.name for file in made] == ["gone.npz", "single-link.npz"]
    assert not gone.exists()
    stored = read_starts("single-link", tmp_path)
    assert stored["smallest"] == pytest.approx(2.0, abs=1e-9)
    assert len(stored["taut_ratio"]) == 3
    assert starts.make_starts(folder=tmp_path) == ()
    for state in ("taut", "gathered"):
        done = [(d, total) for stage, d, total in steps if stage == f"single-link {state}"]
        assert done == [(n + 1, len(done)) for n in range(len(done))]


def test_a_blend_lies_between_its_neighbours_in_proportion():
    """Of states that differ by a shift: at a quarter of the way, a quarter of it."""
    weave = load_weave("single-link")
    stored = find_entry(weave, "taut").poses(0, read_seed(weave))
    low = replace(stored, aspect_ratio=4.0)
    high = replace(
        low, aspect_ratio=5.0, centre=low.centre + 0.1, vectors=low.vectors * 1.2,
        turn_rad=low.turn_rad + 0.04,
    )  # fmt: skip
    blend = Entry.of([low, high])._blend(4.25, low)
    np.testing.assert_allclose(blend.centre, low.centre + 0.025)
    np.testing.assert_allclose(blend.vectors, low.vectors * 1.05)
    np.testing.assert_allclose(np.linalg.norm(blend.normal, axis=1), 1.0)
    assert blend.turn_rad == pytest.approx(low.turn_rad + 0.01)
    assert blend.aspect_ratio == 4.25
    assert Entry.of([low, replace(high, centre=low.centre + 50.0)])._blend(4.25, low) is None


def test_only_so_many_repeats_are_kept_in_memory():
    """A long comparison of rings must not fill the memory."""
    cache._solved.clear()
    with cache.tuning.using(replace(cache.tuning(), kept_repeats=2)):
        for ratio in (4.0, 4.1, 4.2, 4.3):
            solve_cached(load_weave("single-link"), ratio)
            assert len(cache._solved) <= 2
    cache._solved.clear()


def test_random_stored_states_are_sound(stored_of):
    """No overlap beyond 1e-6 wire diameters, the declared links, the weave's own invariants."""
    for weave, poses in some_stored(25, seed=11, keys=weave_keys(), stored_of=stored_of):
        assert is_sound(poses, order_links(weave.links), find_test(weave)), weave.key


@pytest.mark.parametrize("key", weave_keys())
def test_stored_gathered_states_are_no_longer_than_smaller_ones_grown(key, stored_of):
    """Exact for one size of wire: rings grown with all between them move apart and stay sound."""
    weave = load_weave(key)
    if len(weave.classes) > 1:
        pytest.skip("rings of two wires do not grow alike")
    entry = stored_of(weave, "gathered")
    share = entry.vectors[:, 0, 0] / (entry.ratio + 1)
    assert (share[1:] <= share[:-1] * (1 + 1e-3)).all()


def test_gathered_between_grid_points_is_sound_in_few_steps():
    """What loosens a verdict is a state of exactly this ring: no overlap, links, invariants."""
    for key in ("byzantine", "double-link", "rosette-chain"):
        weave = load_weave(key)
        entry = find_entry(weave, "gathered")
        for number in (1, 4, 7):
            ratio = float(np.sqrt(entry.ratio[number] * entry.ratio[number + 1]))
            repeat = solve_cached(weave, ratio, "gathered")
            assert repeat.aspect_ratio == ratio
            assert repeat.residual_gap >= -1e-6
            assert np.array_equal(order_links(repeat.links), order_links(weave.links))
            accept = find_test(weave)
            assert accept is None or accept(repeat)


def test_random_stored_states_are_found_again_from_the_seed(stored_of):
    """Recomputed from scratch: the same pitch within half a per cent, the stored one not worse.

    The stored one was reached from its neighbours too, so it may be a little longer.
    """
    for weave, poses in some_stored(5, seed=12, keys=QUICK, stored_of=stored_of):
        again = solve_poses(weave, poses.aspect_ratio)
        pitch, stored = again.vectors[0, 0], poses.vectors[0, 0]
        assert stored == pytest.approx(pitch, rel=5e-3), weave.key
        assert stored > pitch * (1 - 1e-4), weave.key


@pytest.mark.parametrize("key", ["single-link", "double-link"])
def test_stored_smallest_ratio_is_found_again_from_the_seed(key):
    """The limit that verdicts rest on, recomputed."""
    weave = load_weave(key)
    again = find_smallest(weave).aspect_ratio
    assert find_smallest_aspect_ratio(weave) == pytest.approx(again, rel=5e-3)


@pytest.mark.parametrize("key", ["byzantine", "european-4-in-1", "jens-pind-3"])
def test_between_grid_points_the_answer_is_solved_not_blended(key):
    """Exactly the wanted ratio, overlap-free, and between what its neighbours give."""
    weave = load_weave(key)
    entry = find_entry(weave, "taut")
    low, high = entry.ratio[4], entry.ratio[5]
    ratio = float(np.sqrt(low * high))
    repeat = solve_cached(weave, ratio)
    assert repeat.aspect_ratio == ratio
    assert repeat.residual_gap >= -1e-6
    assert np.array_equal(order_links(repeat.links), order_links(weave.links))
    assert entry.vectors[4, 0, 0] < repeat.vectors[0, 0] < entry.vectors[5, 0, 0]


def test_a_changed_weave_file_does_not_get_the_old_files_starts():
    """The fingerprint covers links, turn and seed."""
    weave = load_weave("single-link")
    for changed in (
        replace(weave, turn_rad=weave.turn_rad + 0.01),
        replace(weave, links=weave.links[:0]),
        replace(weave, data={"seed": {}}),
    ):
        assert fingerprint(changed) != fingerprint(weave)
        assert find_entry(changed, "taut") is None
    assert fingerprint(replace(weave, notes="other words")) == fingerprint(weave)


def test_asking_again_gives_the_same_answer():
    """Kept in memory: bit by bit."""
    weave = load_weave("byzantine")
    one, other = solve_cached(weave, 4.01), solve_cached(weave, 4.01)
    assert np.array_equal(one.centre, other.centre)
    assert one.vectors[0, 0] == other.vectors[0, 0]


def test_below_the_smallest_ratio_the_message_says_what_would_go():
    """Not a bare refusal."""
    with pytest.raises(CannotBeWoven, match="smallest computed one is 2; use a larger ring"):
        solve_cached(load_weave("single-link"), 1.7)


def test_ring_sizes_of_the_row_that_are_the_files_own_are_the_same_weave():
    """A second ring written out as the file has it anyway must not be solved anew."""
    weave = load_weave("japanese-12-in-2")
    sizes = [(size.wire_ratio, size.inner_ratio) for size in weave.classes]
    assert find_smallest_aspect_ratio(weave, ring_sizes=sizes) == find_smallest_aspect_ratio(weave)
