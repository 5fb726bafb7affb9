"""Repeats kept from one question to the next: what would be solved again, or nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from chainplan.store import ResultShelf, version
from chainplan.store.keeping import keeping
from chainplan.weave import find_smallest_aspect_ratio, load_weave, solve_cached
from chainplan.weave.laying import wholeness
from chainplan.weave.solving import cache

OWN_SIZES = ((1.0, 1.0), (0.8, 0.55))


def forget() -> None:
    """Forget what this process has solved, as a new one would."""
    cache._solved.clear()
    cache._smallest.cache_clear()
    cache._locked.cache_clear()
    wholeness._held.clear()


@pytest.fixture(name="shelf")
def fixture_shelf(tmp_path):
    """An empty shelf, and a process that has solved nothing."""
    forget()
    yield ResultShelf(folder=tmp_path / "kept")
    forget()


@pytest.fixture(name="unsolvable")
def fixture_unsolvable(monkeypatch):
    """Call it, and whatever is solved from there on is an error."""

    def stop() -> None:
        def refuse(*_args: object, **_kwargs: object) -> None:
            message = "solved, though it was kept"
            raise AssertionError(message)

        for name in ("pull_near", "solve_poses", "find_smallest"):
            monkeypatch.setattr(cache, name, refuse)

    return stop


def same(first, second) -> bool:
    """Whether two frozen results are the same to the last bit."""
    return all(
        np.array_equal(getattr(first, item.name), getattr(second, item.name))
        for item in fields(first)
    )


@pytest.mark.parametrize("state", ["taut", "gathered"])
def test_a_kept_repeat_is_the_one_that_is_solved_to_the_last_bit(shelf, unsolvable, state) -> None:
    weave = load_weave("byzantine")
    anew = solve_cached(weave, 3.7, state)
    forget()
    with keeping(shelf):
        assert same(solve_cached(weave, 3.7, state), anew)
        forget()
        unsolvable()
        assert same(solve_cached(weave, 3.7, state), anew)


def test_another_ratio_state_or_weave_is_not_taken_for_it(shelf, unsolvable) -> None:
    with keeping(shelf):
        solve_cached(load_weave("byzantine"), 3.7)
        forget()
        unsolvable()
        for key, ratio, state in (
            ("byzantine", 3.7 * (1 + 1e-12), "taut"),
            ("byzantine", 3.7, "gathered"),
            ("jens-pind-3", 3.7, "taut"),
        ):
            with pytest.raises(AssertionError, match="solved, though it was kept"):
                solve_cached(load_weave(key), ratio, state)


def test_rings_of_own_sizes_are_kept_with_their_limit(shelf, unsolvable) -> None:
    """Which takes seconds to solve: nothing is stored of them in the package."""
    weave = load_weave("japanese-12-in-2")
    with keeping(shelf):
        limit = find_smallest_aspect_ratio(weave, ring_sizes=OWN_SIZES)
        anew = solve_cached(weave, 6.0, ring_sizes=OWN_SIZES)
        near = solve_cached(weave, 6.06, ring_sizes=OWN_SIZES)
        forget()
        unsolvable()
        assert find_smallest_aspect_ratio(weave, ring_sizes=OWN_SIZES) == limit
        assert same(solve_cached(weave, 6.0, ring_sizes=OWN_SIZES), anew)
        assert same(solve_cached(weave, 6.06, ring_sizes=OWN_SIZES), near)


def test_what_was_solved_from_another_ring_is_kept_by_that_ring_too(shelf, unsolvable) -> None:
    """Alone it is solved from its seed, and may come out otherwise in its last digits."""
    weave = load_weave("japanese-12-in-2")
    with keeping(shelf):
        solve_cached(weave, 6.0, ring_sizes=OWN_SIZES)
        solve_cached(weave, 6.06, ring_sizes=OWN_SIZES)
        forget()
        unsolvable()
        with pytest.raises(AssertionError, match="solved, though it was kept"):
            solve_cached(weave, 6.06, ring_sizes=OWN_SIZES)


def test_other_code_or_libraries_keep_other_repeats(shelf, unsolvable, monkeypatch) -> None:
    with keeping(shelf):
        solve_cached(load_weave("byzantine"), 3.7)
        forget()
        unsolvable()
        monkeypatch.setattr(version, "solving_version", lambda: "another")
        with pytest.raises(AssertionError, match="solved, though it was kept"):
            solve_cached(load_weave("byzantine"), 3.7)


def test_the_version_follows_every_file_that_repeats_are_solved_by(monkeypatch, tmp_path) -> None:
    package = tmp_path / "package"
    for name in ("weave/solving", "model/piece"):
        (package / name).mkdir(parents=True)
        (package / name / "some.py").write_text("one = 1\n")
    monkeypatch.setattr(version, "PACKAGE", package)
    versions = set()
    for name in ("", "weave/solving", "model/piece"):
        if name:
            (package / name / "some.py").write_text("one = 2\n")
        version.solving_version.cache_clear()
        versions.add(version.solving_version())
    monkeypatch.setattr(version, "_version_file", lambda library: library.encode())
    version.solving_version.cache_clear()
    versions.add(version.solving_version())
    monkeypatch.undo()
    version.solving_version.cache_clear()
    assert len(versions) == 4


def test_libraries_tell_their_versions_without_being_loaded() -> None:
    for library in ("numpy", "scipy"):
        told = version._version_file(library).decode()
        assert __import__(library).__version__ in told


def test_damaged_files_are_solved_anew(shelf) -> None:
    with keeping(shelf):
        anew = solve_cached(load_weave("byzantine"), 3.7)
        files = list(shelf.folder.glob("??/*.kept"))
        assert files
        for path in files:
            path.write_bytes(path.read_bytes()[:-9])
        forget()
        assert same(solve_cached(load_weave("byzantine"), 3.7), anew)


def test_nothing_is_kept_unless_it_is_asked_for(shelf) -> None:
    with keeping(shelf):
        pass
    solve_cached(load_weave("byzantine"), 3.7)
    assert not shelf.folder.exists()


def test_a_question_asked_again_loads_neither_solver_nor_linear_algebra(tmp_path) -> None:
    """And says the same."""
    words = "count --weave european-4-in-1 --wire 1.2mm --inner 6mm --length 60mm --rows 5 --json"
    program = (
        "import sys; from chainplan.cli import main; main(sys.argv[1:]);"
        "print('scipy' in sys.modules, file=sys.stderr)"
    )
    env = {**os.environ, "CHAINPLAN_CACHE": str(tmp_path)}
    first, again = (
        subprocess.run(
            [sys.executable, "-c", program, *words.split()],
            env=env, capture_output=True, text=True, check=True,
        )
        for _ in range(2)
    )  # fmt: skip
    assert (first.stderr.strip(), again.stderr.strip()) == ("True", "False")
    assert again.stdout == first.stdout


def test_what_questions_use_of_scipy_has_no_threads() -> None:
    """So its linear algebra, which would have some, need not be loaded to be limited."""
    package = Path(cache.__file__).parents[2]
    folders = ("weave", "job", "estimate", "reference", "model", "public/questions")
    without = {"scipy.optimize import linprog", "scipy.sparse import csr_matrix"}
    without |= {"scipy.sparse import coo_matrix"}
    without |= {"scipy.sparse.csgraph import connected_components"}
    found = {
        line.strip().removeprefix("from ")
        for folder in folders
        for path in (package / folder).rglob("*.py")
        for line in path.read_text(encoding="utf-8").splitlines()
        if line.strip().startswith(("from scipy", "import scipy"))
    }
    assert found == without
