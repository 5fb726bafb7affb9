"""Whatever stands in a file, the reader answers with a job or with an InputError, never a crash."""

from __future__ import annotations

import contextlib
import io
import tempfile
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chainplan.errors import InputError
from chainplan.job import check_job, write_job
from chainplan.job.sheets.cells import name_fault
from chainplan.job.sheets.example import STARTER

ROOT = Path(__file__).resolve().parents[3]
SAMPLES = {
    ".csv": (ROOT / "samples" / "pieces.csv").read_bytes(),
    ".toml": (ROOT / "samples" / "necklace.toml").read_bytes(),
    ".xlsx": (ROOT / "samples" / "necklace.xlsx").read_bytes(),
}
damages = st.lists(
    st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 40), st.binary(max_size=12)),
    min_size=1,
    max_size=4,
)


def damage(content: bytes, changes: list[tuple[float, int, bytes]]) -> bytes:
    """Cut a few bytes at some places and put others there."""
    for place, length, new in changes:
        at = int(place * len(content))
        content = content[:at] + new + content[at + length :]
    return content


def answer(content: bytes, ending: str) -> None:
    """Read a file; only an InputError may come out."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"job{ending}"
        path.write_bytes(content)
        faults = ()
        with contextlib.suppress(InputError):
            faults = check_job(path)
    for fault in faults:
        assert fault.where.startswith("job")
        assert fault.found
        assert fault.allowed


@pytest.mark.parametrize("ending", [".csv", ".toml", ".xlsx"])
@given(changes=damages)
def test_damaged_file_is_read_or_refused_and_never_crashes(ending, changes):
    """A copy may stop half way, a disc may fail, a mail may be mangled."""
    answer(damage(SAMPLES[ending], changes), ending)


@given(changes=damages, member=st.sampled_from(["workbook", "sheet3", "styles", "sharedStrings"]))
def test_workbook_with_damage_inside_is_read_or_refused(changes, member):
    """The zip may be whole and what is in it broken."""
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(SAMPLES[".xlsx"])) as source,
        zipfile.ZipFile(packed, "w") as target,
    ):
        for name in source.namelist():
            data = source.read(name)
            hit = name.endswith(f"{member}.xml")
            target.writestr(name, damage(data, changes) if hit else data)
    answer(packed.getvalue(), ".xlsx")


@given(
    value=st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats()
    | st.text(max_size=30)
    | st.dates()
    | st.sampled_from(["=1+1", "1e9 mm", "-0", "1,5", "٣ mm", "18", "18awg", "½ mm", "1.5 cm"]),
    column=st.sampled_from(["quantity", "wire", "inner", "length", "due", "list price", "weave",
                            "closed loop", "name", "temper", "clasp length"]),
)  # fmt: skip
def test_any_value_in_any_column_is_read_or_refused(value, column):
    """Every kind of value may stand in every column of a TOML file."""
    rows = [dict(STARTER["pieces"][0]) | {column: value}]
    with tempfile.TemporaryDirectory() as folder:
        path = write_job({"pieces": rows}, Path(folder) / "job.toml")
        answer(path.read_bytes(), ".toml")


@given(name=st.text(max_size=70))
def test_name_that_is_taken_stays_within_its_folder_and_is_no_formula(name):
    """What passes may be used in a path and in a spreadsheet cell."""
    if name_fault(name) is None:
        assert Path("a", name).resolve().parent == Path("a").resolve()
        assert name[0] not in "=+-@\t\r"
        assert not set('/\\:*?"<>|') & set(name)
