"""The workbook: live formulas that agree with the program, and text that stays text."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest

import chainplan
from chainplan.report.workbook import style, write_workbook

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from chainplan.model.plan import Plan

HOSTILE = '=HYPERLINK("http://example.invalid","click")'


@pytest.fixture(scope="module")
def fair_book(fair_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workbook of the sample batch."""
    path = tmp_path_factory.mktemp("book") / "plan.xlsx"
    write_workbook(fair_plan, path)
    return path


def rows_of(path: Path, sheet: str, heading: str) -> list[dict[str, Any]]:
    """Read the table whose first heading is ``heading``, with the values last calculated."""
    cells = list(openpyxl.load_workbook(path, data_only=True)[sheet].iter_rows(values_only=True))
    top = next(n for n, row in enumerate(cells) if heading in row and len(set(row)) > 3)
    found = []
    for row in cells[top + 1 :]:
        if row[0] is None:
            break
        found.append(dict(zip(cells[top], row, strict=True)))
    return found


def compare_with(plan: Plan, path: Path) -> None:
    """Compare every live figure of a recalculated workbook with the program's own."""
    estimates = plan.estimates
    lines = {(r["piece"], r["item"]): r for r in rows_of(path, "cost", "item")}
    assert len(estimates.costs) > 5
    summed: dict[tuple[str, str], list[Decimal]] = {}
    for line in estimates.costs:
        summed.setdefault((line.piece, line.item), []).append(line.amount)
    for line in estimates.costs:
        row = lines[line.piece, line.item]
        if len(summed[line.piece, line.item]) == 1:
            assert row["quantity"] == pytest.approx(float(line.quantity), abs=1.01e-4), line
            assert row["amount"] == pytest.approx(float(line.amount), abs=0.0101), line
        assert row["rate"] == pytest.approx(float(line.rate), abs=1e-6), line
    nothing = [r for key, r in lines.items() if key not in summed]
    assert all(row["amount"] == pytest.approx(0, abs=0.006) for row in nothing), nothing
    for quote, row in zip(estimates.quotes, rows_of(path, "cost", "copies"), strict=False):
        assert row["piece"] == quote.piece
        for heading, value in (
            ("cost, all copies", quote.cost),
            ("cost each", quote.cost_each),
            ("price each, before tax", quote.price_each),
            ("price each, with tax", quote.price_with_tax_each),
        ):
            assert row[heading] == pytest.approx(float(value), abs=0.06), (quote.piece, heading)
    minutes = {(time.piece, time.station): time.usual_min for time in estimates.times}
    for row in rows_of(path, "workings", "copies"):
        for station in ("coil", "weave", "weld", "rework", "inspect"):
            expected = minutes[row["piece"], station]
            assert row[f"{station}, min"] == pytest.approx(expected, abs=1e-6)
    for need, row in zip(estimates.wire, rows_of(path, "workings", "group"), strict=True):
        assert row["spare rings"] == need.spare_rings
        assert row["coils"] == need.coils
        assert row["metal used, g"] == pytest.approx(need.mass_used_g, rel=1e-9)
        assert row["scrap, g"] == pytest.approx(need.scrap_g, rel=1e-6, abs=1e-9)


def test_every_formula_agrees_with_the_program_s_own_figure(
    fair_plan: Plan, fair_book: Path, recalculate: Callable[[Path], Path]
) -> None:
    """An office program calculates the workbook anew; nothing of ours is cached in it."""
    compare_with(fair_plan, recalculate(fair_book))


def test_a_changed_input_is_followed_as_the_program_follows_it(
    fair_plan: Plan, fair_book: Path, recalculate: Callable[[Path], Path], tmp_path: Path
) -> None:
    """Silver price, labour, margin and yield are changed in the book and in the job alike."""
    from chainplan.estimate import estimate_job

    job = fair_plan.job
    bench = replace(
        job.bench,
        wire=replace(job.bench.wire, join_yield=0.9),
        money=replace(
            job.bench.money, labour_per_hour=Decimal("41.50"), margin_percent=Decimal(25)
        ),
    )
    silver = {"sterling-silver": Decimal("1.37")}
    prices = tuple(
        replace(price, price=silver[price.item], per="g") if price.item in silver else price
        for price in job.prices
    )
    changed = replace(job, bench=bench, prices=prices)
    estimates = estimate_job(changed, fair_plan.pieces, fair_plan.batch)
    expected = replace(fair_plan, job=changed, estimates=estimates)
    assert expected.estimates.quotes[0].cost != fair_plan.estimates.quotes[0].cost
    book = openpyxl.load_workbook(fair_book)
    new = {
        "join_yield": 0.9,
        "labour_per_hour": 41.5,
        "margin_percent": 25,
        "price_metal_sterling_silver_925": 1.37,
    }
    for name, value in new.items():
        sheet, cell = next(iter(book.defined_names[name].destinations))
        book[sheet][cell.replace("$", "")].value = value
    path = tmp_path / "changed.xlsx"
    book.save(path)
    compare_with(expected, recalculate(path))


def test_no_text_of_the_job_can_become_a_formula(necklace_plan: Plan, tmp_path: Path) -> None:
    """Only formulas that we wrote are formulas, whatever names and notes say."""
    first = necklace_plan.pieces[0]
    piece = replace(first.piece, name=HOSTILE, notes="+1+1\n@SUM(A1)")
    estimates = necklace_plan.estimates
    renamed = replace(
        estimates,
        costs=tuple(replace(line, piece=HOSTILE) for line in estimates.costs),
        quotes=tuple(replace(line, piece=HOSTILE) for line in estimates.quotes),
        times=tuple(replace(line, piece=HOSTILE) for line in estimates.times),
        wire=tuple(replace(line, piece=HOSTILE) for line in estimates.wire),
        counts=tuple(replace(line, piece=HOSTILE) for line in estimates.counts),
        settings=tuple(replace(line, piece=HOSTILE) for line in estimates.settings),
        calendar=tuple(replace(line, piece=HOSTILE) for line in estimates.calendar),
        due=tuple(replace(line, piece=HOSTILE) for line in estimates.due),
    )
    plan = replace(
        necklace_plan,
        pieces=(replace(first, piece=piece),),
        estimates=renamed,
        warnings=("-2+3", "=1+1"),
    )
    path = tmp_path / "plan.xlsx"
    write_workbook(plan, path)
    found = 0
    for sheet in openpyxl.load_workbook(path).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert "HYPERLINK" not in cell.value
                    assert sheet.title in ("summary", "cost", "workings", "spare rings")
                elif isinstance(cell.value, str) and cell.value[:1] in "=+-@":
                    found += 1
                    assert cell.data_type == "s"
                    assert cell.quotePrefix, cell
    assert found > 10


def test_sheets_too_long_are_cut_and_say_so(
    necklace_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A million rings do not fit a sheet; the CSV has them all."""
    from chainplan.report.workbook import sheets

    monkeypatch.setattr(style, "MOST_ROWS", 100)
    monkeypatch.setattr(sheets, "MOST_ROWS", 100)
    path = tmp_path / "plan.xlsx"
    write_workbook(necklace_plan, path)
    sheet = openpyxl.load_workbook(path)["rings"]
    assert sheet.max_row == 104
    assert f"100 of {necklace_plan.pieces[0].layout.rings}" in sheet["A2"].value
    assert "rings.csv" in sheet["A2"].value


def test_inputs_are_named_framed_and_checked(fair_book: Path) -> None:
    """An input cell is seen in black and white, and refuses what cannot be."""
    book = openpyxl.load_workbook(fair_book)
    sheet = book["inputs"]
    assert len(book.defined_names) > 25
    for name in book.defined_names.values():
        _, cell = next(iter(name.destinations))
        assert sheet[cell.replace("$", "")].border.left.style == "mediumDashed"
    assert len(sheet.data_validations.dataValidation) == len(book.defined_names)


def test_every_sheet_is_ready_to_print(fair_book: Path) -> None:
    """Title, header row, print area, one page wide."""
    for sheet in openpyxl.load_workbook(fair_book).worksheets:
        assert sheet["A1"].value
        assert sheet["A2"].value
        assert sheet.page_setup.fitToWidth == 1
        if sheet.title != "cautions":
            assert sheet.print_area, sheet.title


def test_the_same_plan_gives_the_same_cells(
    fair_plan: Plan, fair_book: Path, tmp_path: Path
) -> None:
    """No clock, no chance."""
    again = tmp_path / "plan.xlsx"
    write_workbook(fair_plan, again)
    assert again.read_bytes() == fair_book.read_bytes() or _cells(again) == _cells(fair_book)


def _cells(path: Path) -> list[Any]:
    return [list(s.iter_rows(values_only=True)) for s in openpyxl.load_workbook(path).worksheets]


def test_version_is_in_the_stamp(necklace_plan: Plan) -> None:
    """Who made a figure can be told later."""
    assert chainplan.__version__ in str(necklace_plan.stamp)
