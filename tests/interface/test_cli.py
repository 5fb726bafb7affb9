"""The command line mirrors the library: same answers, stable keys, exit codes, clean streams."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

import chainplan
from chainplan import cli
from chainplan.cli.parser import build_commands
from chainplan.report.text.record import COUNT_KEYS, count_record

if TYPE_CHECKING:
    from pathlib import Path

BYZANTINE = ["--weave", "byzantine", "--wire", "1.0mm", "--inner", "3.5mm"]
COUNT = ["count", *BYZANTINE, "--length", "450mm", "--metal", "sterling-silver"]
PROMISED = {
    "rings", "joins", "links", "repeats", "length_mm", "rings_per_cm", "aspect_ratio",
    "smallest_aspect_ratio", "mass_g", "wire_length_m", "weave", "metal",
}  # fmt: skip


def test_count_gives_the_promised_keys_and_the_library_s_numbers(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """People script against these keys."""
    assert cli.main([*COUNT, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert PROMISED.issubset(COUNT_KEYS)
    assert PROMISED.issubset(answer)
    count = chainplan.count_rings(
        weave="byzantine",
        wire="1.0mm",
        inner="3.5mm",
        length="450mm",
        metal="sterling-silver",
    )
    assert answer == json.loads(json.dumps(count_record(count)))


def test_count_in_words_names_rings_and_verdict(capsys: pytest.CaptureFixture[str]) -> None:
    """The plain answer is for people."""
    assert cli.main(COUNT) == 0
    out = capsys.readouterr().out
    count = chainplan.count_rings(weave="byzantine", wire="1.0mm", inner=3.5, length=450.0)
    assert f"{count.rings} " in out
    assert count.verdict in out


def test_count_on_a_mandrel_adds_springback(capsys: pytest.CaptureFixture[str]) -> None:
    """The ring comes out larger than the mandrel it was wound on."""
    on_mandrel = [*COUNT[:5], "--mandrel", *COUNT[6:]]
    assert cli.main([*on_mandrel, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["mandrel_mm"] == 3.5
    assert 3.5 < answer["inner_mm"] < 3.5 * 1.1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["count", "--weave", "byzantin", *BYZANTINE[2:], "--length", "450mm"], "byzantine"),
        ([*COUNT[:-1], "sterling-silvr"], "sterling-silver"),
        (["count", "--weave", "byzantine", "--wire", "18", "--inner", "4", "--length", "1m"], "18"),
        (["count", "--weave=single-link", "--wire=1mm", "--inner=1.5mm", "--rings=9"], "2"),
        ([*COUNT[:7], "--length=-4cm"], "length"),
        (["plan", "no-such-file.xlsx"], "no-such-file.xlsx"),
        (["check", "no-such-file.toml"], "no-such-file.toml"),
        (["weaves", "no-such-weave"], "no-such-weave"),
    ],
)  # fmt: skip
def test_an_input_at_fault_ends_with_2_and_one_clear_message(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The message is on stderr and names what was found."""
    assert cli.main(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert said in captured.err
    assert "Traceback" not in captured.err


def test_a_fault_of_ours_ends_with_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Only errors made on purpose are the user's; all else is a bug and says so."""

    def broken(**_: object) -> None:
        message = "boom"
        raise RuntimeError(message)

    monkeypatch.setattr(chainplan, "count_rings", broken, raising=False)
    assert cli.main(COUNT) == 1
    assert "fault of ours" in capsys.readouterr().err


def test_without_a_command_the_help_is_shown(capsys: pytest.CaptureFixture[str]) -> None:
    """A first call with no words should teach."""
    assert cli.main([]) == 0
    assert "COMMAND" in capsys.readouterr().out


def test_every_command_names_its_public_function() -> None:
    """The mirror is complete: what the command line can do the library can."""
    _, commands = build_commands()
    assert set(commands.runs) == {
        "calibrate",
        "check",
        "compare",
        "count",
        "designs",
        "examine",
        "fit",
        "learn",
        "order",
        "plan",
        "progress",
        "quote",
        "record",
        "replan",
        "review",
        "share",
        "start",
        "substitute",
        "trace",
        "weaves",
        "price-list",
        "what-if",
    }
    for name, run in commands.runs.items():
        named = [word for word in chainplan.__all__ if word in (run.__doc__ or "")]
        assert named, name
        assert f"chainplan {name}" in (run.__doc__ or "")
        for word in named:
            assert callable(getattr(chainplan, word))


def test_weaves_lists_every_weave_and_tells_about_one(capsys: pytest.CaptureFixture[str]) -> None:
    """The list's keys are what the job file takes."""
    assert cli.main(["weaves", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert [w["weave"] for w in listed] == [w.key for w in chainplan.list_weaves()]
    assert cli.main(["weaves", "byzantine", "--wire", "1mm", "--inner", "3.5mm", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["weave"] == "byzantine"
    assert told["count"]["aspect_ratio"] == 3.5


def test_check_says_that_a_sample_has_no_faults(
    samples: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And writes nothing."""
    before = sorted(samples.iterdir())
    assert cli.main(["check", str(samples / "necklace.xlsx"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"ok": True, "faults": []}
    assert sorted(samples.iterdir()) == before


def test_a_job_may_use_a_weave_file_of_its_own(
    samples: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The file lies beside the job, and its key stands for it in what is written."""
    (tmp_path / "my-weave.toml").write_bytes((samples / "my-weave.toml").read_bytes())
    job = tmp_path / "job.csv"
    job.write_text("name,weave,wire,inner,metal,length\na,my-weave.toml,1mm,3.2mm,copper,9cm\n")
    assert cli.main(["check", str(job)]) == 0
    plan = chainplan.make_plan(chainplan.read_job(job))
    assert plan.pieces[0].layout.sections[0].weave == "one-two-chain"
    job.write_text("name,weave,wire,inner,metal,length\na,absent.toml,1mm,3.2mm,copper,9cm\n")
    capsys.readouterr()
    assert cli.main(["check", str(job)]) == 2
    assert "absent.toml" in capsys.readouterr().out
