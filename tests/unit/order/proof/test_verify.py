"""The verifier: finds every kind of fault, and reads a maker's own order."""

from __future__ import annotations

import numpy as np
import pytest

from chainplan.errors import InputError
from chainplan.order import pace_start_s, read_order, verify_order


def check(piece, ring, start_s):
    return verify_order(*piece.three, np.asarray(ring), np.asarray(start_s), **piece.kwargs)


def starts(piece, ring, wait_s=0.0):
    kwargs = {key: piece.kwargs[key] for key in ("settings", "pace")}
    pace = pace_start_s(piece.layout, piece.joins, np.asarray(ring), **kwargs)
    return pace + wait_s * np.arange(len(ring))


def test_a_slow_order_is_clean(make):
    """Ten minutes between welds: nothing can be too warm."""
    piece = make.piece(make.chain(5))
    assert check(piece, range(5), starts(piece, range(5), 600.0)) == ()


def test_missing_double_unknown_and_closed_rings_are_named(make):
    """Each fault with its ring."""
    piece = make.piece(make.chain(6), pre_closed=[5])
    found = check(piece, [0, 1, 1, 9, 5], np.arange(5) * 100.0)
    told = {(item.ring, item.what) for item in found}
    assert (1, "welded twice") in told
    assert (9, "there is no such ring; the piece has 6") in told
    assert (5, "closed beforehand, not to be welded in place") in told
    assert {(2, "left out"), (3, "left out"), (4, "left out")} <= told


def test_a_step_sooner_than_the_hand_can_be_there_is_told(make):
    """Five seconds of handling cannot be done in three."""
    piece = make.piece(make.chain(3))
    start = starts(piece, range(3), 300.0)
    start[2] = start[1] + 3.0
    assert "sooner than the hand" in check(piece, range(3), start)[0].what


def test_a_tenth_of_a_second_is_rounding_and_two_are_not(make):
    """Times in files have one digit; more than their rounding is somebody's hurry."""
    piece = make.piece(make.chain(3))
    rounded, hurried = starts(piece, range(3), 300.0), starts(piece, range(3))
    rounded[2] -= 0.04
    assert check(piece, range(3), rounded) == ()
    pace = starts(piece, range(3))
    hurried[2] -= 0.2
    soon = [item for item in check(piece, range(3), hurried) if item.kind == "too soon"]
    assert [item.step for item in soon] == [2]
    pace[2] -= 0.1
    assert "too soon" not in {item.kind for item in check(piece, range(3), pace)}


def test_warm_rings_are_told_with_step_time_and_temperature(make):
    """The temperature is that of the exact network."""
    piece = make.piece(make.pairs(10), limit_c=60.0)
    ring = np.arange(20)
    start = starts(piece, ring)
    run = piece.heat.simulate("high", ring, start)
    found = check(piece, ring, start)
    hot = [item for item in found if item.what == "too warm to be welded"]
    assert [item.step for item in hot] == np.flatnonzero(run.before_c > 60.05).tolist()
    assert hot[0].temperature_c == pytest.approx(run.before_c[hot[0].step])
    assert hot[0].time_s == start[hot[0].step]
    assert hot[0].limit_c == 60.0


def test_a_part_above_its_limit_is_told_by_name(make):
    """Welding round a spring without a pause."""
    piece = make.piece(make.chain(12), limit_c=300.0, parts=(("spring", 0, 45.0, 0.05),))
    found = check(piece, range(12), starts(piece, range(12)))
    assert [item.what[:20] for item in found] == ["spring gets too warm"]
    times = np.arange(0, 200, 0.25)
    course = piece.heat.rise("high", range(12), starts(piece, range(12)), times)[:, 12]
    assert found[0].time_s == pytest.approx(times[np.argmax(course)], abs=1.0)
    assert f"worst {found[0].time_s:.0f} s after the start" in found[0].what


def test_too_warm_for_the_fingers_is_told(make):
    """Quick end-to-end work on pairs warms what the fingers hold."""
    piece = make.piece(make.pairs(40), limit_c=500.0, held=True)
    order = [*range(0, 80, 2), *range(1, 80, 2)]
    found = check(piece, order, starts(piece, order))
    assert found
    assert {item.what for item in found} == {"no place cool enough for the fingers"}


def test_an_order_file_is_read_with_times_and_steps(tmp_path):
    """Columns may be named as in weld-order.csv; steps may be shuffled."""
    path = tmp_path / "own.csv"
    path.write_text("step,ring,planned start s\n2,7,11.5\n1,3,5\n\n", encoding="utf-8")
    order = read_order(path)
    assert order.ring.tolist() == [2, 6]
    assert order.start_s.tolist() == [5.0, 11.5]
    path.write_text("Ring\n4\n2\n", encoding="utf-8")
    assert read_order(path).ring.tolist() == [3, 1]
    assert read_order(path).start_s is None


def test_an_order_file_of_several_pieces_is_read_for_one(tmp_path):
    """The batch's file lists all pieces."""
    path = tmp_path / "all.csv"
    path.write_text("piece,ring\nA,1\nB,1\nA,2\n", encoding="utf-8")
    assert read_order(path, "A").ring.tolist() == [0, 1]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rings\n1\n", "no column 'ring'"),
        ("", "no column 'ring'"),
        ("ring\n", "no joins found"),
        ("ring\nsix\n", "row 2, ring: found 'six'; a number is expected"),
        ("ring\n0\n", "rings are counted 1, 2, 3"),
        ("ring\n1.5\n", "rings are counted 1, 2, 3"),
        ("ring,start s\n1,\n", "row 2, start: found ''"),
    ],
)
def test_a_bad_order_file_is_refused_with_its_row(tmp_path, text, words):
    """Where, what was found, what is allowed."""
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as error:
        read_order(path)
    assert words in str(error.value)


def test_a_missing_or_binary_order_file_is_refused(tmp_path):
    """A clear message, not a traceback."""
    with pytest.raises(InputError, match="no such file"):
        read_order(tmp_path / "none.csv")
    path = tmp_path / "own.csv"
    path.write_bytes(b"ring\n\xff\xfe\n")
    with pytest.raises(InputError, match="not a text file"):
        read_order(path)
