"""However a command is ended or wherever it runs: one message, the right status, nothing half done.

Each of these tests fails when the part of the program that it is about is taken out.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import chainplan
from chainplan import cli

ROOT = Path(__file__).parents[2]
TINY = "name,weave,wire,inner,metal,rings\nStuds,loose-joins,1mm,,copper,2\n"
RUN = "import sys\nfrom chainplan.cli import main\nsys.exit(main())\n"


def run(code: str, *words: str, **options: object) -> subprocess.CompletedProcess[str]:
    """Run a piece of code in a process of its own, with the words of a command."""
    return subprocess.run(
        [sys.executable, "-c", code, *words],
        env={**os.environ, "PYTHONPATH": str(ROOT), **options.pop("env", {})},  # type: ignore[dict-item]
        capture_output=True,
        text=True,
        check=False,
        **options,  # type: ignore[call-overload]
    )


def stop_when_imported(module: str) -> str:
    """Return code that runs a command and gets Ctrl-C just when a module is imported."""
    return f"""
import signal, sys
class Press:
    def find_spec(self, name, path, target=None):
        if name == {module!r}:
            sys.meta_path.remove(self)
            signal.raise_signal(signal.SIGINT)
sys.meta_path.insert(0, Press())
{RUN}"""


@pytest.fixture
def tiny(tmp_path: Path) -> Path:
    """A job of two joins."""
    job = tmp_path / "studs.csv"
    job.write_text(TINY)
    return job


@pytest.mark.parametrize(
    "module",
    ["chainplan.cli.parser", "argparse", "chainplan.errors", "chainplan.public.plan", "numpy",
     "scipy.linalg", "chainplan.order", "chainplan.report.workbook"],
)  # fmt: skip
def test_ctrl_c_ends_with_130_and_one_line_from_the_first_moment_on(
    module: str, tiny: Path, tmp_path: Path
) -> None:
    """No trace, nothing half written, and nothing left beside the folder."""
    done = run(stop_when_imported(module), "plan", str(tiny), "--out", str(tmp_path / "out"))
    assert done.returncode == 130, done.stderr
    assert done.stdout == ""
    assert done.stderr == "chainplan: stopped; nothing was changed\n"
    assert [p.name for p in tmp_path.iterdir()] == ["studs.csv"]


def test_ctrl_c_while_files_are_written_leaves_the_earlier_ones(tiny: Path, tmp_path: Path) -> None:
    """The folder is as it was, and nothing is left beside it."""
    out = tmp_path / "out"
    assert cli.main(["plan", str(tiny), "--out", str(out), "--seed", "1"]) == 0
    before = {p: p.read_bytes() for p in out.rglob("*") if p.is_file()}
    code = stop_when_imported("chainplan.report.bench_sheet.page")
    done = run(code, "plan", str(tiny), "--out", str(out))
    assert done.returncode == 130
    assert "Traceback" not in done.stderr
    assert {p: p.read_bytes() for p in out.rglob("*") if p.is_file()} == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "studs.csv"]


def test_ctrl_c_that_python_would_lose_still_stops(tiny: Path) -> None:
    """In a callback of the garbage collector an exception is only told and the program goes on."""
    code = f"""
import chainplan
class Lost:
    def __del__(self):
        raise KeyboardInterrupt
def check_job(path):
    Lost()
    return ()
chainplan.check_job = check_job
{RUN}"""
    done = run(code, "check", str(tiny))
    assert done.returncode == 130
    assert done.stderr == "chainplan: stopped\n"
    assert done.stdout == ""


@pytest.mark.parametrize("words", [["weaves"], ["weaves", "--json"]], ids=["short", "long"])
def test_an_answer_that_nobody_reads_on_is_no_fault(words: list[str]) -> None:
    """``chainplan weaves | head -1`` ends without a word, also when the answer is long."""
    process = subprocess.Popen(
        [sys.executable, "-c", RUN, *words],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    process.stdout.close()
    assert process.stderr is not None
    assert process.stderr.read() == ""
    process.stderr.close()
    assert process.wait() == 0


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a file that is always full")
@pytest.mark.parametrize("words", [["weaves"], ["weaves", "--json"]], ids=["short", "long"])
def test_an_answer_that_cannot_be_written_is_told(words: list[str]) -> None:
    """A full disk behind ``>`` is not our fault, and not silently nothing."""
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-c", RUN, *words],
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "No space left" in done.stderr


@pytest.mark.parametrize(("words", "code"), [(["check", "absent.toml"], 2), (["weaves"], 1)])
def test_debug_shows_where_an_error_arose(words: list[str], code: int) -> None:
    """The status stays the one without it, and so does the message."""
    broken = f"import chainplan\nchainplan.list_weaves = None\n{RUN}"
    plain, traced = run(broken, *words), run(broken, *words, "--debug")
    assert plain.returncode == traced.returncode == code
    assert "Traceback" not in plain.stderr
    assert "Traceback" in traced.stderr
    assert plain.stderr in traced.stderr


def test_warnings_are_told_as_notes() -> None:
    """Without the line of code that Python would show."""
    code = f"""
import chainplan, warnings
def check_job(path):
    warnings.warn("rests on a guess")
    return ()
chainplan.check_job = check_job
{RUN}"""
    done = run(code, "check", str(ROOT / "samples" / "pieces.csv"))
    assert done.stderr == "chainplan: note: rests on a guess\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--seed", "-1"], "whole number"),
        (["--seed", "1.5"], "whole number"),
        (["--out", ""], "names? a folder"),
        (["--out", "/"], "top of the disk"),
        (["--out", "studs.csv"], "is a file"),
    ],
)
def test_what_cannot_be_is_said_before_planning(
    words: list[str], said: str, tiny: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """Exit 2, and nobody waits for a plan that cannot be written."""
    monkeypatch.chdir(tiny.parent)

    def never(*_: object, **__: object) -> None:
        pytest.fail("it was planned")

    monkeypatch.setattr(chainplan, "make_plan", never)
    try:
        status = cli.main(["plan", "studs.csv", *words])
    except SystemExit as refused:  # as argparse refuses
        status = int(str(refused.code))
    assert status == 2
    captured = capsys.readouterr()
    assert re.search(said, captured.err)
    assert captured.out == ""
    assert [p.name for p in tiny.parent.iterdir()] == ["studs.csv"]


def test_a_file_of_the_user_s_in_the_way_is_said_before_planning(
    tiny: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder called plan.json, say."""
    (tiny.parent / "out" / "plan.json").mkdir(parents=True)
    monkeypatch.setattr(chainplan, "make_plan", lambda *_, **__: pytest.fail("it was planned"))
    assert cli.main(["plan", str(tiny), "--out", str(tiny.parent / "out")]) == 2
    assert "plan.json" in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="names there are letters, not bytes")
@pytest.mark.parametrize("words", [["check", b"caf\xe9.csv"], ["check", "x.csv", "--out", b"\xff"]])
def test_a_name_with_a_byte_that_is_no_letter_is_refused(
    words: list[str | bytes], tmp_path: Path
) -> None:
    """One line that shows the byte."""
    (tmp_path / "x.csv").write_text(TINY)
    command = "plan" if "--out" in words else "check"
    done = subprocess.run(
        [sys.executable, "-c", RUN, command, *words[1:]],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        cwd=tmp_path,
        capture_output=True,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1
    assert b"no letter" in done.stderr


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs terminals as on Unix")
def test_a_terminal_without_utf_8_gets_an_answer(tmp_path: Path) -> None:
    """Letters that it lacks are replaced; file names that it cannot write are refused."""
    old = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONPATH": str(ROOT)}
    job = tmp_path / "studs.csv"
    job.write_text(TINY.replace("Studs", "Kätchen"), encoding="utf-8")
    for words, status in (
        (["compare", "--help"], 0),
        (["check", str(job)], 0),
        (["plan", str(job)], 2),
    ):
        ours, theirs = os.openpty()
        done = subprocess.run(
            [sys.executable, "-c", RUN, *words],
            env={**os.environ, **old},
            cwd=tmp_path,
            stdout=theirs,
            stderr=subprocess.PIPE,
            check=False,
        )
        os.close(theirs)
        shown = b""
        if status == 0:
            shown = os.read(ours, 100_000)
        os.close(ours)
        assert done.returncode == status, done.stderr
        assert b"Traceback" not in done.stderr
        assert b"fault of ours" not in done.stderr
        assert shown.isascii()
        assert (b"UTF-8" in done.stderr) == (status == 2)


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs terminals as on Unix")
def test_the_progress_line_shows_on_a_terminal_and_goes(tiny: Path, tmp_path: Path) -> None:
    """The plan tells its stages while it works, and wipes the line before its notes."""
    code = f"import chainplan.progress_line\nchainplan.progress_line.PATIENCE_S = 0.0\n{RUN}"
    ours, theirs = os.openpty()
    done = subprocess.run(
        [sys.executable, "-c", code, "plan", str(tiny), "--out", str(tmp_path / "out")],
        env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm", "PYTHONUTF8": "1"},
        stdout=subprocess.PIPE,
        stderr=theirs,
        check=False,
    )
    os.close(theirs)
    shown = os.read(ours, 100_000).decode()
    os.close(ours)
    assert done.returncode == 0
    assert "files" in shown
    assert "█" in shown or "·" in shown
    _, _, notes = shown.rpartition("\r\x1b[K")
    assert "·" not in notes
    assert b"\x1b" not in done.stdout


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
def test_a_second_ctrl_c_leaves_no_trace_either(tiny: Path, tmp_path: Path) -> None:
    """People press it more than once."""
    code = f"""
import atexit, signal
atexit.register(signal.raise_signal, signal.SIGINT)
{stop_when_imported("chainplan.order")}"""
    done = run(code, "plan", str(tiny), "--out", str(tmp_path / "out"))
    assert done.returncode == 130
    assert done.stderr == "chainplan: stopped; nothing was changed\n"
