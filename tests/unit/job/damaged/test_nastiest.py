"""The nastiest finds of a hundred thousand damaged files, each as small as it can be."""

from __future__ import annotations

import io
import re
import struct
import zlib

import openpyxl
import pytest

from chainplan.errors import InputError
from chainplan.estimate.price.what_if import change_job
from chainplan.heat import read_readings
from chainplan.job import check_job, read_job
from chainplan.job.files.drawn import read_grid
from chainplan.job.files.logo import check_logo
from chainplan.job.table import Findings


def test_a_letter_before_a_number_of_a_cooling_curve_is_told(tmp_path):
    """A sign may stand there, and none of the thousand letters between "+" and the minus sign."""
    path = tmp_path / "cooling.csv"
    rows = [f"{n},{90 - n}" for n in range(9)]
    path.write_text("\n".join(["time,temperature", *rows, "a9,80", "−3,40", "+4,41"]))
    with pytest.raises(InputError, match="line 11: 'a9' is no number"):
        read_readings(path)


def test_a_grid_whose_cells_reach_far_is_refused_and_not_cut_off(tmp_path):
    """Far cells that nobody sees would make millions; the rows below them would have been lost."""
    book = openpyxl.Workbook()
    page = book.worksheets[0]
    for row in range(1, 150):
        page.cell(row=row, column=1, value="A")
    page.cell(row=1, column=16_000, value="B")
    whole = io.BytesIO()
    book.save(whole)
    (tmp_path / "grid.xlsx").write_bytes(whole.getvalue())
    with pytest.raises(InputError, match="reaches beyond row"):
        read_grid(tmp_path / "grid.xlsx", "grid.xlsx", {})


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("argon=1" + "0" * 30, "beyond all prices"),
        ("argon=" + "9" * 150, "beyond all prices"),
        ("argon+" + "9" * 100 + "%", "beyond all prices"),
        ("x" * 100_000, "cannot be read"),
    ],
)
def test_a_change_beyond_all_prices_is_told(change, words, samples):
    """Instead of ending in a traceback, or taking seconds to be looked through."""
    from chainplan.public.jobs import weave_names

    job = read_job(samples / "necklace.toml", weaves=weave_names())
    with pytest.raises(InputError, match=words) as caught:
        change_job(job, [change])
    assert len(str(caught.value)) < 300


def png(*chunks: tuple[bytes, bytes]) -> bytes:
    """Put a PNG together, with check sums that fit."""
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        for kind, body in chunks
    )


def head(wide: int, high: int) -> tuple[bytes, bytes]:
    """Return the head of a PNG."""
    return b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 6, 0, 0, 0)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (png(head(2, 2), (b"IEND", b"")), "is no picture that can be read"),
        (png(head(2, 2), (b"IDAT", zlib.compress(b"\0"))), "is no picture that can be read"),
        (png(head(60_000, 60_000), (b"IDAT", b"")), "is no picture|60000 × 60000 dots"),
        (png(head(9_000, 9_000), (b"IDAT", zlib.compress(b"\0" * 99))), "9000 × 9000 dots"),
    ],
)
def test_a_logo_that_cannot_be_drawn_is_told_before_planning(content, words, tmp_path):
    """The head may be whole; what counts is whether all of it can be read, in little room."""
    (tmp_path / "logo.png").write_bytes(content)
    findings = Findings()
    check_logo("logo.png", tmp_path, "job › bench", findings)
    (fault,) = findings.faults
    assert re.search(words, fault.found)


def test_a_weave_file_that_is_given_as_a_job_is_told_as_such(samples, four_weaves):
    """One fault and what to do, not one a key."""
    with pytest.raises(InputError, match="is a weave file and no job") as caught:
        check_job(samples / "my-weave.toml", weaves=four_weaves)
    assert "chainplan weaves --new" in str(caught.value)
