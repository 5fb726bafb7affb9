"""The samples are what their script makes, and read clean with the library's weaves."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from chainplan.job import check_job, read_job
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.piece.weave_names import WeaveNames
from chainplan.weave.library import load_weave, weave_keys

ROOT = Path(__file__).resolve().parents[3]
NAMES = [
    "craft-fair.xlsx", "dangles.toml", "designs.xlsx", "necklace.toml", "necklace.xlsx",
    "pieces.csv",
    "stone-necklace.toml",
]  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The samples made anew in a folder of their own."""
    spec = importlib.util.spec_from_file_location("make_samples", ROOT / "tests/make_samples.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    folder = tmp_path_factory.mktemp("samples")
    script.write_samples(folder)
    return folder


@pytest.fixture(scope="module")
def library():
    """The weave names of the shipped library."""
    return WeaveNames.of(load_weave(key) for key in weave_keys())


def filled_cells(path):
    """Return the cells of the sheets that are read and of the drop-downs, without settings."""
    book = openpyxl.load_workbook(path)
    return {
        (page.title, cell.coordinate): cell.value
        for page in book.worksheets
        if page.title
        in {"pieces", "designs", "prices", "stock", "parts", "metals", "recorded", "lists"}
        for row in page.iter_rows()
        for cell in row
        if cell.value is not None
    }


def test_folder_holds_these_samples():
    """Each sample that is there is checked here."""
    # A weave, a cooling curve, a log and a picture, which are no jobs; the README's pictures.
    others = {"cooling.csv", "my-weave.toml", "monday.csv", "pictures", "sun-and-sea.png"}
    assert sorted({p.name for p in (ROOT / "samples").iterdir()} - others) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_sample_is_what_the_script_makes(name, made, library, remake):
    """A sample edited by hand would be lost at the next change of the columns."""
    committed, fresh = ROOT / "samples" / name, made / name
    if name.endswith(".xlsx"):
        assert filled_cells(committed) == filled_cells(fresh), remake
    else:
        assert committed.read_text(encoding="utf-8") == fresh.read_text(encoding="utf-8"), remake
    jobs = [read_job(path, weaves=library) for path in (committed, fresh)]
    assert replace(jobs[0], input_sha256="") == replace(jobs[1], input_sha256=""), remake


def test_cooling_curve_is_what_the_script_makes(made, remake):
    """It is no job, so it is only compared."""
    assert (ROOT / "samples/cooling.csv").read_bytes() == (made / "cooling.csv").read_bytes(), (
        remake
    )


@pytest.mark.parametrize("name", NAMES)
def test_sample_reads_without_fault_or_warning(name, library):
    """What we show must be as we ask it of others."""
    path = ROOT / "samples" / name
    assert check_job(path, weaves=library) == ()
    assert read_job(path, weaves=library).warnings == ()


def test_necklace_is_the_same_as_workbook_and_as_toml(library):
    """Two ways to write one job."""
    jobs = [read_job(ROOT / "samples" / f"necklace.{e}", weaves=library) for e in ("xlsx", "toml")]
    bare = [
        replace(j, input_sha256="", pieces=tuple(replace(p, where="") for p in j.pieces))
        for j in jobs
    ]
    assert bare[0] == bare[1]


def test_craft_fair_is_a_varied_batch(library):
    """Six pieces, four weaves, three metals, due dates, loose joins, a stone, a strip, a sheet."""
    job = read_job(ROOT / "samples" / "craft-fair.xlsx", weaves=library)
    sections = [section for piece in job.pieces for section in piece.sections]
    assert len(job.pieces) >= 6
    assert len({section.weave for section in sections} - {LOOSE_JOINS}) >= 4
    assert len({section.metal for section in sections}) >= 3
    assert sum(piece.due is not None for piece in job.pieces) >= 4
    assert any(section.weave == LOOSE_JOINS for section in sections)
    assert any(one.heat_kind == "amber" for piece in job.pieces for one in piece.fittings)
    assert any(part.kind == "spring" for piece in job.pieces for part in piece.parts)
    assert len({section.rows for section in sections if section.rows}) == 2
    assert any(len(piece.sections) > 1 for piece in job.pieces)
