"""What ``chainplan plan`` writes: every file, the same bytes each time, whole or not at all."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import networkx as nx
import pandas as pd
import pytest

import chainplan
from chainplan import cli
from chainplan.cli.common.telling import MOST_NOTES, tell_notes
from chainplan.report import FILES
from chainplan.report.text.tables import ORDER_COLUMNS, RING_COLUMNS
from chainplan.writing.listing import LIST_NAME

if TYPE_CHECKING:
    from pathlib import Path

    from chainplan.model.plan import Plan

EXPECTED = {
    "plan.xlsx", "plan.json", "record-by-hand.xlsx", "rings.csv", "weld-order.csv",
    "weld-order.pdf", "bench-sheet.html",
}  # fmt: skip


@pytest.fixture(scope="module")
def written(necklace_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output folder of the sample necklace."""
    return chainplan.write_plan(necklace_plan, tmp_path_factory.mktemp("out") / "necklace")


def files_of(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()
    }


@pytest.mark.parametrize("name", ["necklace.toml", "pieces.csv"])
def test_a_sample_plans(name: str, samples: Path, tmp_path: Path) -> None:
    """The workbooks are planned by the other tests here; these are the other two."""
    assert cli.main(["plan", str(samples / name), "--out", str(tmp_path / "out")]) == 0
    assert set(files_of(tmp_path / "out")) >= EXPECTED


def test_the_batch_plans_with_every_kind_of_piece(fair_plan: Plan) -> None:
    """Six pieces or more, four weaves, three metals, loose joins, a stone, a strip and a sheet."""
    sections = [section for piece in fair_plan.pieces for section in piece.layout.sections]
    assert len(fair_plan.pieces) >= 6
    assert len({s.weave for s in sections} - {"loose-joins"}) >= 4
    assert len({s.metal for s in sections}) >= 3
    assert {s.form for s in sections} >= {"chain", "strip", "sheet", "loose"}
    assert any(part.kind for piece in fair_plan.pieces for part in piece.piece.parts)
    assert len({piece.piece.due for piece in fair_plan.pieces} - {None}) >= 2


def test_every_promised_file_is_there_and_no_image_that_nobody_asked_for(written: Path) -> None:
    """Pages are in the PDF; images of them are made on request."""
    names = set(files_of(written))
    assert names >= EXPECTED
    assert not any(name.startswith("weld-order/") for name in names)


@pytest.mark.parametrize("images", ["png", "svg"])
def test_images_of_the_pages_are_written_on_request(
    images: str, necklace_plan: Plan, written: Path, tmp_path: Path
) -> None:
    """One a page of the PDF, and all else as without them."""
    import pypdfium2

    folder = chainplan.write_plan(necklace_plan, tmp_path / "out", images=images)
    found = files_of(folder)
    pages = [found.pop(name) for name in sorted(found) if name.startswith("weld-order/")]
    document = pypdfium2.PdfDocument(written / "weld-order.pdf")
    assert len(pages) == len(document)
    document.close()
    head = {"png": b"\x89PNG", "svg": b"<svg"}[images]
    assert all(page.startswith(head) for page in pages)
    usual = files_of(written)
    for listing in (found, usual):
        listing.pop(".written-by-chainplan.json")  # names every file, so the images too
    charts = [found.pop(name) for name in sorted(found) if name.endswith(".png")]
    assert len(charts) == (images == "png") * sum(name.endswith(".svg") for name in usual)
    assert all(chart.startswith(b"\x89PNG") for chart in charts)
    assert found == usual


def test_the_long_sheets_are_written_on_request(tmp_path: Path) -> None:
    """Rings and weld order stand in the workbook only for who asks; in CSV always."""
    import openpyxl

    job = tmp_path / "studs.csv"
    job.write_text(
        "name,quantity,weave,wire mm,inner mm,metal,rings\nStuds,1,loose-joins,0.8,4,copper,2\n"
    )
    sheets = {}
    for words in ((), ("--all-sheets",)):
        out = tmp_path / "-".join(("out", *words))
        assert cli.main(["plan", str(job), "--out", str(out), *words]) == 0
        assert {"rings.csv", "weld-order.csv"} <= set(files_of(out))
        sheets[words] = set(openpyxl.load_workbook(out / "plan.xlsx", read_only=True).sheetnames)
    assert sheets["--all-sheets",] - sheets[()] == {"rings", "weld order"}


def test_images_in_another_format_are_refused(necklace_plan: Plan, tmp_path: Path) -> None:
    """With what is allowed, and before anything is written."""
    with pytest.raises(chainplan.InputError, match=r"'gif' is not .* allowed: png, svg"):
        chainplan.write_plan(necklace_plan, tmp_path / "out", images="gif")
    assert not (tmp_path / "out").exists()


def test_what_stands_at_the_top_is_what_is_looked_for_before_planning(written: Path) -> None:
    """A name that is missing there would be found in the way only after planning.

    Page images come only when asked for, weaving pages with pieces of several metals.
    """
    top = {f"{p.name}/" if p.is_dir() else p.name for p in written.iterdir()}
    assert top - {LIST_NAME} == set(FILES) - {"weld-order/", "weaving.pdf"}


def test_the_record_has_the_documented_keys(written: Path, necklace_plan: Plan) -> None:
    """plan.json is for scripts: stamp, pieces, order, estimates."""
    record = json.loads((written / "plan.json").read_text(encoding="utf-8"))
    assert {
        "stamp", "job", "job_file", "start_date", "bench", "pieces", "order", "schedule",
        "estimates", "samples", "warnings",
    } == set(record)  # fmt: skip
    assert record["stamp"]["version"] == chainplan.__version__
    assert len(record["stamp"]["input_sha256"]) == 64
    section = record["pieces"][0]["sections"][0]
    assert {"rings", "joins", "links", "repeats", "rings_per_cm", "mass_g"} <= set(section)
    rings = record["order"]["pieces"][0]["rings"]
    assert sorted(rings) == [int(n) + 1 for n in sorted(necklace_plan.pieces[0].order.ring)]
    assert record["estimates"]["quotes"]


def test_the_tables_read_back_with_one_row_a_ring_and_a_join(
    written: Path, necklace_plan: Plan
) -> None:
    """Column names are those of the README."""
    rings = pd.read_csv(written / "rings.csv")
    order = pd.read_csv(written / "weld-order.csv")
    piece = necklace_plan.pieces[0]
    assert list(rings.columns) == [name for name, _ in RING_COLUMNS]
    assert list(order.columns) == [name for name, _ in ORDER_COLUMNS]
    assert len(rings) == piece.layout.rings
    assert list(order["ring"]) == [int(n) + 1 for n in piece.order.ring]
    assert order["step"].is_monotonic_increasing
    assert (order["interpass_low_c"] <= order["interpass_high_c"]).all()


def test_the_tables_come_as_dataframes(necklace_plan: Plan, written: Path) -> None:
    """The same rows as in the files, and the estimates beside them."""
    tables = chainplan.plan_tables(necklace_plan)
    order = pd.read_csv(written / "weld-order.csv", keep_default_na=False)
    order["clip_on_ring"] = order["clip_on_ring"].astype(str)  # text, since it may be empty
    pd.testing.assert_frame_equal(tables["weld order"], order, check_dtype=False)
    assert len(tables["cost"]) == len(necklace_plan.estimates.costs)
    assert tables["passes"]["power_j"].gt(0).all()
    assert set(tables) >= {"rings", "wire", "buy list", "time", "price", "calendar", "sources"}


def test_the_graph_is_built_from_the_plan(necklace_plan: Plan) -> None:
    """Nodes are ring numbers with attributes, edges are links."""
    graph = necklace_plan.graph(necklace_plan.pieces[0].piece.name)
    layout = necklace_plan.pieces[0].layout
    assert isinstance(graph, nx.Graph)
    assert graph.number_of_nodes() == layout.rings
    assert graph.number_of_edges() == len(layout.links)
    assert nx.is_connected(graph)
    assert {"wire_mm", "inner_mm", "face", "join_angle_rad"} <= set(graph.nodes[1])


def test_the_same_input_and_seed_give_the_same_bytes(
    samples: Path, written: Path, tmp_path: Path
) -> None:
    """In a process of its own, with another hash seed and time zone."""
    code = f"""
import chainplan
plan = chainplan.make_plan(chainplan.read_job({str(samples / "necklace.xlsx")!r}))
chainplan.write_plan(plan, {str(tmp_path / "again")!r})
"""
    environment = {**os.environ, "PYTHONHASHSEED": "4711", "TZ": "Asia/Tokyo"}
    subprocess.run([sys.executable, "-c", code], check=True, env=environment)
    first, second = files_of(written), files_of(tmp_path / "again")
    assert set(first) == set(second)
    differing = [name for name in first if first[name] != second[name]]
    assert differing == []


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
def test_a_run_killed_in_the_middle_leaves_the_previous_output_whole(
    samples: Path, written: Path, tmp_path: Path
) -> None:
    """Killed after the tables and before the workbook, at a moment that we choose."""
    target = tmp_path / "necklace"
    before = files_of(written)
    for name, content in before.items():
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        (target / name).write_bytes(content)
    code = f"""
import sys, time
import chainplan, chainplan.report.workbook
def stop(*_, **__):
    print("now", flush=True)
    time.sleep(600)
chainplan.report.workbook.write_workbook = stop
plan = chainplan.make_plan(chainplan.read_job({str(samples / "necklace.toml")!r}))
chainplan.write_plan(plan, {str(target)!r})
"""
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        assert run.stdout.readline().strip() == "now"
        run.kill()
    assert files_of(target) == before
    assert len(list(tmp_path.iterdir())) == 2, "what the killed run began lies beside it, hidden"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("absent.xlsx", None),
        ("not-a-workbook.xlsx", b"plainly not a workbook"),
        ("header-only.csv", b"name,quantity,weave,wire,inner,metal,length\n"),
        ("empty.csv", b""),
        ("job.pdf", b"%PDF-1.4"),
        ("nan.csv", b"name,weave,wire,inner,metal,length\na,byzantine,1mm,nan,copper,10cm\n"),
        ("metal.csv", b"name,weave,wire,inner,metal,length\na,byzantine,1mm,4mm,coper,10cm\n"),
        ("tight.csv", b"name,weave,wire,inner,metal,length\na,byzantine,1mm,2mm,copper,10cm\n"),
        (
            "hostile.csv",
            b"name,weave,wire,inner,metal,length\n../../x,byzantine,1mm,4mm,copper,1m\n",
        ),
        ("formula.csv", b"name,weave,wire,inner,metal,length\n=1+1,byzantine,1mm,4mm,copper,1m\n"),
        ("latin.csv", "name,weave\nB\xe9,byzantine\n".encode("latin-1")),
    ],
)
def test_a_bad_input_writes_nothing_and_says_why(
    name: str, content: bytes | None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 2, a message with the file's name on stderr, no folder."""
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    out = tmp_path / "out"
    assert cli.main(["plan", str(path), "--out", str(out)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert name.split(".")[0] in captured.err
    assert "Traceback" not in captured.err
    assert not out.exists()


def test_what_was_examined_in_a_sample_only_is_said(tmp_path: Path) -> None:
    """A large piece: by classes and drawn joins; a small one is looked at as a whole."""
    for rings, few in ((40, True), (4000, False)):
        job = tmp_path / f"chain-{rings}.toml"
        job.write_text(
            '[[piece]]\nname = "Chain"\nweave = "single-link"\nwire_mm = 1.0\ninner_mm = 4.0\n'
            f'metal = "copper"\nrings = {rings}\n',
            encoding="utf-8",
        )
        notes: list[str] = []
        plan = chainplan.make_plan(chainplan.read_job(job))
        chainplan.write_plan(plan, tmp_path / f"out-{rings}", on_note=notes.append)
        assert (notes == []) is few
        assert all(note.startswith("examined in a sample: Chain: ") for note in notes)


def test_hundreds_of_notes_end_with_where_all_of_them_stand(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A catalogue has notes on each piece; the answer must not scroll away above them."""
    tell_notes([f"piece {k}" for k in range(MOST_NOTES)], "the notes")
    assert len(capsys.readouterr().err.splitlines()) == MOST_NOTES
    tell_notes([f"piece {k}" for k in range(MOST_NOTES + 7)], "the notes")
    told = capsys.readouterr().err.splitlines()
    assert told[-1] == "chainplan: note: and 7 more notes: the notes"
    assert told[:-1] == [f"chainplan: note: piece {k}" for k in range(MOST_NOTES)]
