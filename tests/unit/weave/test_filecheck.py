"""The check of a maker's own weave file says what is good, what is not, and what is not new."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from chainplan.errors import InputError
from chainplan.weave.filecheck import _say_where_same, check_weave
from chainplan.weave.library import LIBRARY_FOLDER, load_weave
from chainplan.weave.solving.cache import solve_cached


def write_own(folder, key, *changes):
    """Write a changed copy of a shipped weave file."""
    text = (LIBRARY_FOLDER / f"{key}.toml").read_text(encoding="utf-8")
    text = text.replace(f'key = "{key}"', 'key = "my-own"')
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "my-own.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def own_chain_report(tmp_path_factory):
    """The check of a copy of the single link, under a name of its own."""
    return check_weave(write_own(tmp_path_factory.mktemp("own"), "single-link"))


def test_sound_file_is_solved_at_three_ratios(own_chain_report):
    """A single link: smallest aspect ratio 2, exactly, and the repeat is the inner diameter."""
    assert own_chain_report.ok
    assert own_chain_report.smallest_aspect_ratio == pytest.approx(2.0, abs=1e-6)
    assert len(own_chain_report.repeats) == 3
    for repeat in own_chain_report.repeats:
        assert repeat.vectors[0, 0] == pytest.approx(repeat.aspect_ratio, abs=1e-5)


def test_report_is_told_as_plain_numbers_too(own_chain_report):
    """For whoever reads it with a program: every line with its verdict, every ratio solved."""
    told = json.loads(json.dumps(own_chain_report.record()))
    assert (told["weave"], told["ok"]) == ("my-own", True)
    assert [set(line) for line in told["checks"]] == [{"what", "found", "good"}] * len(
        told["checks"]
    )
    assert [line["good"] for line in told["checks"] if line["what"] == "links"] == [True]
    assert len(told["solved"]) == 3
    for solved in told["solved"]:
        assert solved["repeat_length"] == pytest.approx(solved["aspect_ratio"], abs=1e-5)


def test_copy_of_a_shipped_weave_is_called_the_same_geometry(own_chain_report):
    """A maker should hear that the library has it already."""
    assert "the same geometry as Single link" in str(own_chain_report)


def test_weave_of_the_library_is_not_compared_with_itself():
    """Byzantine in its place is no copy of Byzantine; weaves of the same links are still named."""
    report = str(check_weave(LIBRARY_FOLDER / "byzantine.toml"))
    assert "library: the links of Box chain, Double link (2-in-2), but another geometry" in report
    report = str(check_weave(LIBRARY_FOLDER / "single-link.toml"))
    assert "library: no other weave of the library has these links" in report


def test_shapes_are_compared_at_every_ratio_that_was_solved():
    """A loose chain may hang in another state of the same weave: that is no new weave."""
    weave = load_weave("double-link")
    tight, loose = solve_cached(weave, 3.0), solve_cached(weave, 5.0)
    other_state = replace(loose, thickness=1.3 * loose.thickness)
    assert _say_where_same([tight, loose], weave) == "the same geometry as Double link (2-in-2)"
    said = _say_where_same([tight, other_state], weave)
    assert "Double link (2-in-2) at aspect ratio 3.00, another at 5.00: most likely one" in said
    assert _say_where_same([replace(tight, width=9.0), other_state], weave) == ""


def test_record_is_plain_and_says_the_same(own_chain_report):
    """The record goes to JSON as it is."""
    record = json.loads(json.dumps(own_chain_report.record()))
    assert record["ok"] is True
    assert len(record["solved"]) == 3
    assert len(record["checks"]) == len(own_chain_report.lines)


def test_links_that_the_seed_does_not_have_are_listed(tmp_path):
    """The report names the links that are missing and those that are too many."""
    report = check_weave(write_own(tmp_path, "double-link", ("[0, 1, 1],", "[0, 1, 2],")))
    assert not report.ok
    assert report.smallest_aspect_ratio is None
    assert "declared but not linked in the seed: 0–1 (+2, +0)" in str(report)
    assert "linked in the seed but not declared: 0–1 (+1, +0)" in str(report)
    assert "not solved" in str(report)


def test_a_weave_in_two_pieces_is_bad(tmp_path):
    """Pairs that lie side by side without a link are two chains."""
    report = check_weave(
        write_own(tmp_path, "double-link", ("[0, 1, 1],\n", ""), ("[1, 0, 1],\n", ""))
    )
    assert not report.ok
    assert "falls into 2 pieces" in str(report)


def test_a_check_that_does_not_hold_is_bad(tmp_path):
    """Asking for the turn of a spiral in a Jens Pind file."""
    path = write_own(tmp_path, "jens-pind-3", ("min_deg = 105.0", "min_deg = 130.0"))
    report = check_weave(path)
    assert not report.ok
    assert "does NOT hold" in str(report)


def test_faults_of_the_file_itself_are_raised(tmp_path):
    """What is no weave file gets no report, but all its faults."""
    path = write_own(tmp_path, "single-link", ('form = "chain"', 'form = "chains"'))
    with pytest.raises(InputError, match="did you mean 'chain'"):
        check_weave(path)


def test_folded_weave_without_a_check_of_its_own_gets_advice(tmp_path):
    """The trap of folded weaves: links alone do not keep them from slipping into another."""
    text = (LIBRARY_FOLDER / "jens-pind-3.toml").read_text(encoding="utf-8")
    path = tmp_path / "bare.toml"
    path.write_text(text[: text.index("[[invariants]]")], encoding="utf-8")
    report = str(check_weave(path))
    assert "links alone do not tell it from Jens Pind 3, Spiral 4-in-1" in report
    assert "rings per cm in 1 mm wire" in report


def test_sheet_is_told_by_its_area(tmp_path):
    """Japanese 4-in-1: three rings to a square of two inner diameters."""
    report = check_weave(write_own(tmp_path, "japanese-4-in-1"))
    assert report.ok
    repeat = report.repeats[-1]
    across = repeat.vectors[1, 1]
    expected = 300 / (repeat.vectors[0, 0] * across)
    assert f"{expected:.2f} rings per cm² in 1 mm wire" in str(report)
