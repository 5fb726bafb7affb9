"""Sentences can be reworded: places, hints, counts and exit codes do not hang on their words.

Every refusal is told in other words here, full of the signs and phrases at which somebody might be
tempted to take a sentence apart again, and the program must do just the same.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import chainplan
from chainplan import cli, errors, units
from chainplan.errors import CannotBeWoven, Fault, InputError, Refusal
from chainplan.job import check_job
from chainplan.public.jobs import weave_names

BROKEN = Path(__file__).resolve().parents[2] / "data" / "broken" / "job"
TRAP = "known: a; did you mean 'x'? is 'pieces', which; "


@pytest.fixture
def reworded(monkeypatch):
    """Tell every refusal backwards, between phrases that used to be looked for."""
    plain_fault, plain_refusal = Fault.__post_init__, Refusal.__init__

    def backwards(text: str) -> str:
        return f"{TRAP}{text[::-1]}" if text and not text.startswith(TRAP) else text

    def fault(self: Fault) -> None:
        plain_fault(self)
        for name in ("found", "allowed"):
            object.__setattr__(self, name, backwards(getattr(self, name)))

    def refusal(self: Refusal, *given: object, **named: object) -> None:
        plain_refusal(self, *given, **named)  # type: ignore[arg-type]
        for name in ("trouble", "allowed", "what"):
            object.__setattr__(self, name, backwards(getattr(self, name)))

    def start() -> None:
        monkeypatch.setattr(Fault, "__post_init__", fault)
        monkeypatch.setattr(Refusal, "__init__", refusal)
        monkeypatch.setattr(errors, "tell", lambda where, found, remedy: f"{found} @ {where}")
        monkeypatch.setattr(errors, "tell_meant", lambda hint: f"perhaps {hint}")
        monkeypatch.setattr(errors, "tell_known", lambda known: f"one of {sorted(known)}")

    return start


def judged(path: Path, weaves: object) -> list[tuple[str, tuple[str, ...]]] | str:
    """Return place and hint of every fault of a file, or the kind of error that stopped it."""
    try:
        return [(fault.where, fault.hint) for fault in check_job(path, weaves=weaves)]
    except InputError as error:
        return f"{type(error).__name__} {error.at('').where} {error.at('').hint}"


def test_every_broken_file_has_the_same_faults_in_other_words(reworded):
    """Place, hint and number of faults are data; only the sentences differ."""
    weaves = weave_names()
    paths = sorted(BROKEN.iterdir())
    before = [judged(path, weaves) for path in paths]
    reworded()
    assert [judged(path, weaves) for path in paths] == before


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, object]:
    """Run a command and return its exit status and the places and hints that it told."""
    code = cli.main([*words, "--json"])
    out = json.loads(capsys.readouterr().out)
    return code, [(fault["where"], fault["hint"]) for fault in out["faults"]]


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (("check", str(BROKEN / "metal_not_known.toml")), ["copper"]),
        (("check", str(BROKEN / "weave_not_known.toml")), ["single-link"]),
        (("check", str(BROKEN / "bench_setting_not_known.toml")), ["pre flow s"]),
        (("count", "--weave", "byzantin", "--wire", "1mm", "--inner", "4mm", "--length", "9cm"),
         ["byzantine"]),
    ],
)  # fmt: skip
def test_command_answers_the_same_in_other_words(words, hint, reworded, capsys):
    """Exit status, place and hint stay; the hint is a word to put in, not a sentence."""
    before = told(capsys, *words)
    assert before[0] == 2
    assert before[1][0][1] == hint
    reworded()
    assert told(capsys, *words) == before


def test_rings_too_small_are_told_at_their_cell_in_other_words(reworded, tmp_path):
    """What the weave says of a ring is told at the ring's place, whatever it says."""
    path = tmp_path / "small.toml"
    path.write_text(
        "[[piece]]\nname = 'A'\nweave = 'byzantine'\nwire = '1mm'\ninner = '2mm'\n"
        "metal = 'copper'\nlength = '9cm'\n",
        encoding="utf-8",
    )
    before = [(fault.where, fault.hint) for fault in chainplan.check_job(path)]
    assert len(before) == 1
    assert "inner" in before[0][0]
    reworded()
    assert [(fault.where, fault.hint) for fault in chainplan.check_job(path)] == before


def test_weave_and_unit_errors_carry_their_parts():
    """Nobody has to take a sentence apart to know what was found and what helps."""
    with pytest.raises(CannotBeWoven) as small:
        chainplan.count_rings(weave="byzantine", wire="1mm", inner="2mm", length="9cm")
    assert small.value.said.allowed.startswith("at least 3.3 mm inside for 1 mm wire")
    with pytest.raises(InputError) as unit:
        units.read_length_mm("18")
    assert (unit.value.said.of, unit.value.said.trouble) == ("'18'", "has no unit")
    assert unit.value.at("C2", "length") == Fault(
        "C2", "length is '18', which has no unit", "write a length in mm, cm, m, in, inch, inches"
    )
