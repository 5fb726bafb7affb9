"""Whole pieces from the command line: samples with fittings, quotes, price lists, strict prices."""

from __future__ import annotations

import json
import re
import warnings
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

import chainplan
from chainplan import cli
from chainplan.errors import WeaveError

ROOT = Path(__file__).parents[2]
STONE, DANGLES = ROOT / "samples/stone-necklace.toml", ROOT / "samples/dangles.toml"
OF_THE_WORKSHOP = (
    "join", "pulse", "power", "mandrel", "kerf", "argon", "weld order", "pass ", "margin", "cost",
    "limit", "°C", "yield", "spare", "aspect",
)  # fmt: skip
"""Words that a quote has no use for."""


@pytest.fixture(scope="module")
def stone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of the sample with a stone, its output folder."""
    folder = tmp_path_factory.mktemp("stone") / "out"
    assert cli.main(["plan", str(STONE), "--strict", "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def dangles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of the short pieces; a library's warning would stop it."""
    folder = tmp_path_factory.mktemp("dangles") / "out"
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        assert cli.main(["plan", str(DANGLES), "--out", str(folder)]) == 0
    return folder


def pages_of(file: Path) -> list[str]:
    """Text of every page of a PDF."""
    document = pypdfium2.PdfDocument(file)
    return [page.get_textpage().get_text_range() for page in document]


def test_quote_has_one_page_a_piece_in_the_customer_s_words(stone: Path) -> None:
    """Shop, customer, what it is, size, weight, hallmark, price, dates, terms, care; no more."""
    (text,) = pages_of(stone / "quote.pdf")
    plan = json.loads((stone / "plan.json").read_text(encoding="utf-8"))
    price = plan["estimates"]["quotes"][0]["price_with_tax_each"]
    for words in (
        "Studio Ebb and Flood", "Quote for Ms Invented", "Rock pool necklace", "Byzantine chain",
        "sterling silver 925", "opal in a silver setting", "mm wide", "hallmarked", price,
        "with 20 % tax", "until 10 February 2027", "Ready by", "Half when you order", "Care",
        "at its own size",
    ):  # fmt: skip
        assert words in text, words
    found = [word for word in OF_THE_WORKSHOP if word in text.casefold()]
    assert found == []
    assert "NOT YET" not in text


def test_quote_is_to_scale(stone: Path) -> None:
    """The ruler under the stretch at its own size runs in whole centimetres of the page."""
    page = pypdfium2.PdfDocument(stone / "quote.pdf")[0]
    text = page.get_textpage()
    places = {}
    for k in range(text.count_rects()):
        left, bottom, right, _ = text.get_rect(k)
        words = text.get_text_bounded(*text.get_rect(k)).strip()
        if re.fullmatch(r"\d+", words):
            places.setdefault(round(bottom, 1), []).append((int(words), (left + right) / 2))
    rulers = [sorted(marks) for marks in places.values() if len(marks) > 8]
    steps = {
        round((b[1] - a[1]) / (b[0] - a[0]) / 72 * 25.4, 1)
        for marks in rulers
        for a, b in pairwise(marks)
    }
    assert 10.0 in steps


def test_what_has_no_price_is_loud_on_every_page_and_refused_if_strict(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Terminal, JSON, quote, workbook and price list; --strict writes nothing."""
    text = STONE.read_text(encoding="utf-8").replace("price = 64.00\n", "")
    job = tmp_path / "unpriced.toml"
    job.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    assert cli.main(["plan", str(job), "--strict", "--out", str(out)]) == 2
    assert not out.exists()
    assert "opal in a silver setting has no price" in capsys.readouterr().err
    assert cli.main(["plan", str(job), "--out", str(out)]) == 0
    said = capsys.readouterr()
    assert "NO PRICE   Rock pool necklace without opal in a silver setting" in said.out
    assert "without opal in a silver setting" in said.err
    (page,) = pages_of(out / "quote.pdf")
    assert "NOT YET IN THIS PRICE: opal in a silver setting" in page
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["estimates"]["quotes"][0]["missing"] == ["opal in a silver setting"]
    assert cli.main(["price-list", str(job), "--lengths", "45cm"]) == 0
    assert "WITHOUT opal in a silver setting" in capsys.readouterr().out


def test_price_list_rises_with_length_and_tells_what_cannot_be_made(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """One line a piece and length, with tax; --json is the public function's answer."""
    words = ["price-list", str(STONE), "--lengths", "40cm,45cm,50cm,3cm", "--json"]
    assert cli.main(words) == 0
    told = json.loads(capsys.readouterr().out)
    prices = [line["price"] for line in told["lines"]]
    assert prices[3] is None
    assert "must be shorter" in told["lines"][3]["reason"]
    amounts = [Decimal(price) for price in prices[:3]]
    assert amounts == sorted(amounts)
    assert "20 % tax" in told["tax"]
    again = chainplan.price_list(STONE, lengths=["40cm"])
    assert str(again.lines[0].price) == prices[0]
    with pytest.raises(chainplan.InputError, match="lengths"):
        chainplan.price_list(STONE, lengths=["forty"])


def test_stone_set_last_is_no_part_and_its_delivery_holds_up_the_finish(stone: Path) -> None:
    """Clasp and end ring stand by; the opal comes later and is waited for."""
    plan = json.loads((stone / "plan.json").read_text(encoding="utf-8"))
    (piece,) = plan["pieces"]
    assert [item["name"] for item in piece["stand_by"]] == ["spring clasp", "end ring"]
    assert [part["name"] for part in piece["parts"]] == ["spring clasp"]
    come = plan["schedule"]["deliveries"]["Rock pool necklace"]
    assert come["last fitting"] == "2027-01-18"
    begins = [t["start"] for t in plan["schedule"]["tasks"] if t["station"] == "last fitting"]
    assert min(begins) >= come["last fitting"]


def test_short_pieces_are_held_with_tweezers_and_have_no_empty_chart(dangles: Path) -> None:
    """Said on paper and screen; nothing is null where a number belongs."""
    paper = " ".join(pages_of(dangles / "weld-order.pdf"))
    assert "hold it with cross-lock tweezers at an end" in " ".join(paper.split())
    text = (dangles / "plan.json").read_text(encoding="utf-8")
    assert "NaN" not in text
    charts = list((dangles / "charts").rglob("*.svg"))
    assert charts
    for chart in charts:
        text = chart.read_text(encoding="utf-8")
        drawn = re.findall(r"<(?:path|use|rect|polyline|image)\b", text)
        assert len(drawn) > 12, chart.name


def test_logo_that_is_no_picture_is_a_fault_with_its_place(tmp_path: Path) -> None:
    """The user's own picture, looked at before anything is planned."""
    (tmp_path / "logo.png").write_bytes(b"no picture")
    job = tmp_path / "job.toml"
    known = STONE.read_text(encoding="utf-8")
    text = known.replace("[bench.quote]", '[bench.quote]\nlogo = "logo.png"')
    job.write_text(text, encoding="utf-8")
    faults = chainplan.check_job(job)
    assert ["no picture" in fault.found for fault in faults] == [True]
    Image.new("RGB", (60, 20), "navy").save(tmp_path / "logo.png")
    assert chainplan.check_job(job) == ()


CUFF = """
[[piece]]
name = "Fitted cuff"
weave = "european-4-in-1"
wire_mm = 1.2
inner_mm = 6.0
metal = "copper"
length_mm = 120.0
rows = 5

[[fitting]]
piece = "Fitted cuff"
fitting = "slide clasp"
kind = "clasp"
where = "start"
length_mm = 12.0
connecting_rings = 2
wire_mm = 1.2
inner_mm = 5.0

[[fitting]]
piece = "Fitted cuff"
fitting = "end ring"
kind = "end ring"
where = "end"
length_mm = 6.0
"""


def test_a_sheet_with_fittings_is_counted_in_rows_and_columns(tmp_path: Path) -> None:
    """Only the rings that hold the fittings are named by number: they are in no row."""
    job = tmp_path / "cuff.toml"
    job.write_text(CUFF, encoding="utf-8")
    plan = chainplan.make_plan(chainplan.read_job(job))
    (piece,) = plan.pieces
    layout, order = piece.layout, piece.order
    sheet = next(k for k, s in enumerate(layout.sections) if s.form in ("strip", "sheet"))
    holding = layout.section != sheet
    assert holding.sum() == 3
    for work in order.passes:
        rings = order.ring[work.first_step : work.first_step + work.joins]
        assert len(set(holding[rings])) == 1, "never both in one pass"
        words = ("ring ",) if holding[rings].all() else ("row", "column", "diagonal")
        assert any(word in work.text for word in words), work.text
        assert not holding[rings].all() or "column" not in work.text
    assert holding[order.ring[:2]].all()
    assert holding[order.ring[-1]]
    folder = chainplan.write_plan(plan, tmp_path / "plan")  # and the examiner agrees
    page = (folder / "bench-sheet.html").read_text(encoding="utf-8")
    (content,) = re.findall(r'<script type="application/json" id="content">(.*?)</script>', page)
    assert json.loads(content)["pieces"][0]["beside"] == [0, 1, len(order.ring) - 1]


def test_a_clasp_without_anything_to_close_into_is_asked_about(tmp_path: Path) -> None:
    """A question, for it may hook into the chain itself; with an end ring there is none."""
    job = tmp_path / "job.toml"
    job.write_text(CUFF, encoding="utf-8")
    assert not any("second half" in text for text in chainplan.read_job(job).warnings)
    alone = CUFF.rpartition("[[fitting]]")[0]
    job.write_text(alone, encoding="utf-8")
    (asked,) = [text for text in chainplan.read_job(job).warnings if "second half" in text]
    assert "'slide clasp' is at the start of 'Fitted cuff' and nothing at the end" in asked


def test_a_closed_loop_is_told_as_a_wrist_is_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Round its inside it is shorter than along its middle: π times its thickness, a bent strip."""
    from math import pi

    job = tmp_path / "job.csv"
    job.write_text(
        "name,weave,wire mm,inner mm,metal,length mm,closed loop\n"
        "Loop bracelet,single-link,1.0,4.0,copper,200,yes\n",
        encoding="utf-8",
    )
    out = tmp_path / "out"
    assert cli.main(["plan", str(job), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    (piece,) = chainplan.make_plan(chainplan.read_job(job)).pieces
    thick_mm = piece.layout.sections[0].thickness_mm
    assert piece.layout.length_mm == pytest.approx(200.0)  # fifty rings of 4 mm inside
    assert piece.inside_round_mm == pytest.approx(200.0 - pi * thick_mm)
    words = f"20.0 cm, {piece.inside_round_mm / 10:.1f} cm round its inside (20.0 cm asked)"
    assert words in said
    (text,) = pages_of(out / "quote.pdf")
    assert "NOT YET IN THIS PRICE: copper and workshop supplies" in text
    assert not [word for word in OF_THE_WORKSHOP if word in text.casefold()]
    assert f"{piece.inside_round_mm / 10:.1f} cm round its inside" in text


def test_a_ring_that_is_too_small_is_answered_with_one_that_goes() -> None:
    """The least ring, and a mandrel of a usual series whose ring is at least that."""
    with pytest.raises(WeaveError) as error:
        chainplan.count_rings(weave="full-persian-6-in-1", wire=1.2, inner=5.0, length=190.0)
    said = str(error.value)
    found = re.search(r"at least ([\d.]+) mm inside .* mandrel of ([\d.]+) mm gives ([\d.]+)", said)
    assert found is not None
    least, mandrel, inner = map(float, found.groups())
    assert mandrel % 0.25 == 0
    assert least <= inner < least + 0.3
    chainplan.count_rings(weave="full-persian-6-in-1", wire=1.2, mandrel=mandrel, length=190.0)


def test_a_logo_that_is_a_drawing_is_refused_with_what_to_do(tmp_path: Path) -> None:
    """Drawings ask for typefaces and files that may not be here."""
    (tmp_path / "logo.svg").write_text("<svg/>", encoding="utf-8")
    job = tmp_path / "job.toml"
    text = STONE.read_text(encoding="utf-8")
    job.write_text(text.replace("[bench.quote]", '[bench.quote]\nlogo = "logo.svg"'), "utf-8")
    (fault,) = chainplan.check_job(job)
    assert "save it as .png" in fault.allowed
