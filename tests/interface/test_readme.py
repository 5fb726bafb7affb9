"""Every command and example of the README is run as it stands there."""

from __future__ import annotations

import doctest
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"(?:<!-- (.+?) -->\n)?```(\w+)\n(.*?)```", README, flags=re.DOTALL)
SET_UP = ("install and plan", "install and test")
COMMANDS = [
    line
    for mark, language, text in BLOCKS
    if language == "sh" and mark not in SET_UP
    for line in text.replace("\\\n", " ").splitlines()
    if line.strip() and not line.startswith("#")
]
EXAMPLES = [text for _, language, text in BLOCKS if language == "python"]


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as a user has it after cloning: the samples and an empty output folder."""
    folder = tmp_path_factory.mktemp("workshop")
    shutil.copytree(ROOT / "samples", folder / "samples")
    (folder / "output").mkdir()
    return folder


def test_the_readme_has_commands_and_examples() -> None:
    """If the way the README is read breaks, the tests below would pass by testing nothing."""
    named = {shlex.split(line)[1] for line in COMMANDS}
    assert {"start", "check", "plan", "count", "weaves", "order", "compare"} <= named
    assert EXAMPLES


@pytest.mark.parametrize("line", COMMANDS)
def test_a_command_of_the_readme_runs(line: str, workshop: Path) -> None:
    """They run in the order in which they stand, in one folder, as a reader would."""
    words = shlex.split(line)
    assert words[0] == "chainplan"
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", *words],
        cwd=workshop,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout


@pytest.mark.parametrize("text", EXAMPLES)
def test_an_example_of_the_readme_gives_what_it_says(
    text: str, workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python examples are doctests."""
    monkeypatch.chdir(workshop)
    parser = doctest.DocTestParser()
    test = parser.get_doctest(text, {}, "README.md", "README.md", 0)
    assert test.examples
    outcome = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS).run(test)
    assert outcome.failed == 0


def test_the_set_up_commands_are_the_ones_that_ci_runs() -> None:
    """The check run takes both from the README, so they cannot drift apart."""
    marks = [mark for mark, language, _ in BLOCKS if language == "sh" and mark in SET_UP]
    assert marks == list(SET_UP)
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for mark in SET_UP:
        assert f'command_after "{mark}"' in script
