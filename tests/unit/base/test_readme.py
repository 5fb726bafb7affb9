"""What the README repeats from the project is what the project says; quick checks only."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from chainplan.bounds import bounds_markdown
from chainplan.job import columns_markdown
from chainplan.report.text.record import COUNT_KEYS

ROOT = Path(__file__).parents[3]
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("sheet", re.findall(r"<!-- columns: (\w+) -->", README))
def test_the_tables_of_columns_are_those_that_the_reader_uses(sheet: str, remake: str) -> None:
    """One table drives reader, starter workbook and README."""
    _, _, rest = README.partition(f"<!-- columns: {sheet} -->\n")
    assert rest.partition("<!-- end -->")[0] == columns_markdown(sheet), remake


def test_the_tables_of_pieces_and_parts_are_there() -> None:
    """Without the marks the test above would pass by testing nothing."""
    assert {"pieces", "parts"} <= set(re.findall(r"<!-- columns: (\w+) -->", README))


def test_the_bounds_are_those_that_the_readers_keep(remake: str) -> None:
    """One object drives readers, messages and README."""
    _, _, rest = README.partition("<!-- bounds -->\n")
    assert rest.partition("<!-- end -->")[0] == bounds_markdown(), remake


def test_the_keys_of_the_record_are_all_named() -> None:
    """What people script against is documented."""
    for key in COUNT_KEYS:
        assert f"`{key}`" in README, key


def test_every_picture_of_the_readme_exists(remake: str) -> None:
    """A README with a hole where the picture was is worse than none."""
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    assert pictures
    for name in pictures:
        assert (ROOT / name).is_file(), f"{name}: {remake}"
