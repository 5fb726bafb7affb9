"""The workbook: live formulas that agree with the program, and text that stays text."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import openpyxl
import pytest
from openpyxl.utils.cell import coordinate_to_tuple

import chainplan
from chainplan.model.bench import pace_warning
from chainplan.model.order import LimitCheck, LimitKind
from chainplan.report.text.instructions import limit_text
from chainplan.report.workbook import ASKED, ORDER, sheets, write_workbook
from chainplan.report.workbook.cells import page, table
from chainplan.report.workbook.cells.page import FOLLOWS_NOT
from chainplan.report.workbook.money.workings import STATIONS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

    from chainplan.model.plan import Plan

HOSTILE = '=HYPERLINK("http://example.invalid","click")'


@pytest.fixture(scope="module")
def fair_book(fair_plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workbook of the sample batch, with all its sheets."""
    path = tmp_path_factory.mktemp("book") / "plan.xlsx"
    write_workbook(fair_plan, path, all_sheets=True)
    return path


def cells_of(path: Path, sheet: str) -> list[tuple[Any, ...]]:
    """Read the cells of a sheet, with the values that are stored in them."""
    return _read(path, path.stat().st_mtime_ns)[sheet]


@lru_cache(maxsize=8)
def _read(path: Path, _written_ns: int) -> dict[str, list[tuple[Any, ...]]]:
    """Read a workbook once: a table after another is looked at, and reading takes a second."""
    book = openpyxl.load_workbook(path, data_only=True, read_only=True)
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in book.worksheets}


def rows_of(path: Path, sheet: str, heading: str) -> list[dict[str, Any]]:
    """Read the table whose first heading is ``heading``, with the values last calculated."""
    cells = cells_of(path, sheet)
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
    for sheet in openpyxl.load_workbook(path, read_only=True).sheetnames:
        values = [value for row in cells_of(path, sheet) for value in row]
        assert not [v for v in values if isinstance(v, str) and v.startswith("#")], sheet
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
    prices = rows_of(path, "price", "copies")
    assert prices[-1]["piece"] == "all pieces" or len(prices) == len(estimates.quotes)
    for quote, row in zip(estimates.quotes, prices, strict=False):
        assert row["piece"] == quote.piece
        for heading, value in (
            ("cost, all copies", quote.cost),
            ("cost each", quote.cost_each),
            ("price each, before tax", quote.price_each),
            ("tax each", quote.tax_each),
            ("price each, with tax", quote.price_with_tax_each),
            ("left above cost, each", quote.price_each - quote.cost_each),
        ):
            assert row[heading] == pytest.approx(float(value), abs=0.06), (quote.piece, heading)
        told = next(r for r in rows_of(path, "summary", "what it is") if r["piece"] == quote.piece)
        assert told["price each, with tax"] == row["price each, with tax"]
        assert told["all copies, with tax"] == pytest.approx(
            row["price each, with tax"] * quote.quantity
        )
    minutes = {(time.piece, time.station): time.usual_min for time in estimates.times}
    for quote, row in zip(
        estimates.quotes, rows_of(path, "piece workings", "coil, min"), strict=True
    ):
        for station in STATIONS:
            expected = minutes[quote.piece, station]
            assert row[f"{station}, min"] == pytest.approx(expected, abs=1e-6)
    used = {row["piece"]: row for row in rows_of(path, "piece workings", "argon, L")}
    for name, figures in estimates.figures.items():
        if name:
            known = {figure.key: figure.usual for figure in figures}
            assert used[name]["argon, L"] == pytest.approx(known["argon"], rel=1e-9)
            assert used[name]["tips"] == pytest.approx(known["tips"], rel=1e-9)
            assert used[name]["bench, h"] == pytest.approx(known["hours"], rel=1e-6)
    spares = rows_of(path, "spare rings", "group")
    for need, row in zip(estimates.wire, spares, strict=True):
        assert row["spare rings"] == need.spare_rings
        assert row["with one fewer"] < row["wanted chance"] <= row["chance with them"]
        assert 1 - row["chance with them"] == pytest.approx(need.shown_risk, abs=1e-9)
    for need, row in zip(estimates.wire, rows_of(path, "wire workings", "to cut"), strict=True):
        assert row["spare rings"] == need.spare_rings
        assert row["coils"] == need.coils
    for need, row in zip(estimates.wire, rows_of(path, "wire workings", "wire, g/m"), strict=True):
        assert row["metal used, g"] == pytest.approx(need.mass_used_g, rel=1e-9)
        assert row["scrap, g"] == pytest.approx(need.scrap_g, rel=1e-6, abs=1e-9)


def formulas_of(path: Path) -> dict[tuple[str, str], str]:
    """Every formula of a workbook, by sheet and cell."""
    return {
        (sheet.title, cell.coordinate): cell.value
        for sheet in openpyxl.load_workbook(path).worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


def values_of(path: Path, places: Iterable[tuple[str, str]]) -> dict[tuple[str, str], Any]:
    """The values that are stored in some cells, by sheet and cell."""
    found = {}
    for sheet, cell in places:
        row, column = coordinate_to_tuple(cell)
        found[sheet, cell] = cells_of(path, sheet)[row - 1][column - 1]
    return found


def without_values(path: Path, target: Path) -> Path:
    """Copy a workbook and leave the values of its formulas out, so that none can be handed on."""
    book = openpyxl.load_workbook(path)
    book.save(target)
    assert set(values_of(target, formulas_of(target)).values()) == {None}
    return target


def compare_stored(stored: Path, calculated: Path) -> int:
    """Compare what is stored with every formula with what an office program makes of it."""
    formulas = formulas_of(stored)
    before, after = values_of(stored, formulas), values_of(calculated, formulas)
    for place, formula in formulas.items():
        known, made = before[place], after[place]
        assert known is not None, (place, formula)
        if isinstance(known, str):
            assert made == known, (place, formula)
        else:
            assert made == pytest.approx(known, rel=1e-9, abs=1e-9), (place, formula)
    return len(formulas)


def test_every_formula_is_stored_with_the_value_that_it_gives(
    samples: Path,
    necklace_plan: Plan,
    fair_plan: Plan,
    recalculate_all: Callable[[Sequence[Path]], list[Path]],
    tmp_path: Path,
) -> None:
    """Previews, phones and programs that only read see what an office program would calculate."""
    plans = {"necklace.xlsx": necklace_plan, "craft-fair.xlsx": fair_plan}
    names = ["craft-fair.xlsx", "designs.xlsx", "necklace.toml", "necklace.xlsx", "pieces.csv"]
    assert {path.name for path in samples.glob("*.xlsx")} <= set(names)
    stored, empty = [], []
    for number, name in enumerate(names):
        if name not in plans:
            plans[name] = chainplan.make_plan(chainplan.read_job(samples / name))
        stored.append(tmp_path / f"stored-{number}.xlsx")
        write_workbook(plans[name], stored[-1])
        empty.append(without_values(stored[-1], tmp_path / f"plan-{number}.xlsx"))
    for name, before, after in zip(names, stored, recalculate_all(empty), strict=True):
        assert compare_stored(before, after) > 60, name
        compare_with(plans[name], before)
        compare_with(plans[name], after)


def change_inputs(path: Path, new: Mapping[str, float], folder: Path) -> Path:
    """Change input cells by their names, as a user would; no value of a formula is kept."""
    book = openpyxl.load_workbook(path)
    for name, value in new.items():
        sheet, cell = next(iter(book.defined_names[name].destinations))
        book[sheet][cell.replace("$", "")].value = value
    changed = folder / "changed.xlsx"
    book.save(changed)
    return changed


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
    estimates = estimate_job(changed, fair_plan.pieces, fair_plan.batch, fair_plan.schedule)
    expected = replace(fair_plan, job=changed, estimates=estimates)
    assert expected.estimates.quotes[0].cost != fair_plan.estimates.quotes[0].cost
    new = {
        "join_yield": 0.9,
        "labour_per_hour": 41.5,
        "margin_percent": 25,
        "price_metal_sterling_silver_925": 1.37,
    }
    compare_with(expected, recalculate(change_inputs(fair_book, new, tmp_path)))


POSTS = """
start_date = 2027-01-11

[[piece]]
name = "Earring posts"
quantity = 3
weave = "loose-joins"
wire_mm = 0.8
metal = "sterling-silver"
rings = 12

[[piece]]
name = "Short chain"
quantity = 2
weave = "single-link"
wire_mm = 1.2192
inner_mm = 4.8
metal = "copper"
rings = 8
clasp_length_mm = 9.0

[[price]]
item = "sterling-silver"
price = 1.05
per = "g"
date = 2027-01-08

[[price]]
item = "copper"
price = 12
per = "kg"
date = 2027-01-08

[[price]]
item = "saw blade"
price = 0.2
per = "each"
date = 2027-01-08
"""


@pytest.fixture(scope="module")
def posts_plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Joins that are no rings beside a short chain, on an invented bench."""
    path = tmp_path_factory.mktemp("posts") / "posts.toml"
    path.write_text(POSTS, encoding="utf-8")
    return chainplan.make_plan(chainplan.read_job(path))


def test_formulas_of_joins_that_are_no_rings_agree_too(
    posts_plan: Plan, recalculate: Callable[[Path], Path], tmp_path: Path
) -> None:
    """They take pulses and hours, and no wire: the sums over no rings are no errors."""
    path = tmp_path / "plan.xlsx"
    write_workbook(posts_plan, path)
    book = recalculate(path)
    compare_with(posts_plan, book)
    (posts,) = [r for r in rows_of(book, "summary", "what it is") if r["piece"] == "Earring posts"]
    assert (posts["size"], posts["weight each"]) == ("12 joins", None)
    items = {r["item"] for r in rows_of(book, "cost", "item") if r["piece"] == "Earring posts"}
    assert not [item for item in items if item.startswith(("metal", "wire", "saw"))]


def test_the_workshop_reads_every_limit_in_words(posts_plan: Plan, tmp_path: Path) -> None:
    """How warm each thing gets, usually and in the bad case, and its limit, in whole degrees."""
    path = tmp_path / "plan.xlsx"
    write_workbook(posts_plan, path)
    rows = rows_of(path, "workshop", "limits of temperature")
    for piece, row in zip(posts_plan.pieces, rows, strict=True):
        told = (row["limits of temperature"] or "").splitlines()
        names = [check.name for check in piece.order.limits]
        assert len(told) == len(set(names)) == len(names) > 0
        for check, text in zip(piece.order.limits, told, strict=True):
            assert text.endswith(
                f"usually {check.usual_c:.0f} °C, warmest {check.high_c:.0f} °C, "
                f"limit {check.limit_c:.0f} °C"
            )


def test_a_broken_limit_does_not_read_as_if_it_held() -> None:
    """60.3 °C is above 60 °C, whatever rounding says."""
    check = LimitCheck(
        kind=LimitKind.PART,
        name="pearl",
        where="",
        limit_c=60.0,
        low_c=50.0,
        usual_c=55.0,
        high_c=60.3,
        holds=False,
    )
    assert limit_text(check) == "pearl: TOO WARM, usually 55 °C, warmest 61 °C, limit 60 °C"


def test_an_invented_pace_is_said_until_it_is_changed(posts_plan: Plan, tmp_path: Path) -> None:
    """One setting of pace or stations that is the user's own is enough to be quiet."""
    path = tmp_path / "plan.xlsx"

    def told(plan: Plan) -> bool:
        write_workbook(plan, path)
        cells = openpyxl.load_workbook(path)["notes"].iter_rows(values_only=True)
        return any(pace_warning() in str(value) for row in cells for value in row)

    assert told(posts_plan)
    bench = posts_plan.job.bench
    own = replace(bench, stations=replace(bench.stations, weave_ring_s=17.0))
    assert not told(chainplan.make_plan(replace(posts_plan.job, bench=own)))


def test_settings_to_try_show_their_range(posts_plan: Plan, tmp_path: Path) -> None:
    """The first setting is a guess; its low and high say how much of one."""
    path = tmp_path / "plan.xlsx"
    write_workbook(posts_plan, path)
    rows = rows_of(path, "settings to try", "where from")
    for line, row in zip(posts_plan.estimates.settings, rows, strict=True):
        power = next(figure for figure in line.figures if figure.key == "pulse-power")
        assert power.low < power.high
        assert row["likely between"] == f"{power.low:.0f} – {power.high:.0f} J"


def test_the_dates_count_the_days_at_the_assay_office(fair_plan: Plan, fair_book: Path) -> None:
    """Silver above the country's limit is ready when it is back with its hallmark."""
    rows = rows_of(fair_book, "dates", "wanted by")
    away = [row for row in rows if row["weekdays at the assay office"]]
    assert away
    assert all(row["ready by"] > row["work done"] for row in away)
    needed = [line for line in fair_plan.estimates.due if line.hallmark_days]
    assert len(away) == len(needed) < len(rows)


def test_spare_rings_of_a_large_batch_follow_their_formula(
    necklace_plan: Plan, recalculate: Callable[[Path], Path], tmp_path: Path
) -> None:
    """Many hundreds of spares are looked for as far as they go, and the cost still follows."""
    from chainplan.estimate import estimate_job

    first = necklace_plan.pieces[0]
    pieces = (replace(first, piece=replace(first.piece, quantity=60)),)
    estimates = estimate_job(necklace_plan.job, pieces, necklace_plan.batch)
    assert estimates.wire[0].spare_rings > 400
    path = tmp_path / "large.xlsx"
    plan = replace(necklace_plan, pieces=pieces, estimates=estimates)
    write_workbook(plan, path)
    compare_with(plan, recalculate(path))


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
        figures={HOSTILE if name else "": found for name, found in estimates.figures.items()},
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
                    assert sheet.title in (
                        "summary", "price", "cost", "wire workings", "piece workings",
                        "spare rings",
                    )  # fmt: skip
                elif isinstance(cell.value, str) and cell.value[:1] in "=+-@":
                    found += 1
                    assert cell.data_type == "s"
                    assert cell.quotePrefix, cell
    assert found > 10


def test_sheets_too_long_are_cut_and_say_so(
    necklace_plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A million rings do not fit a sheet; the CSV has them all."""
    monkeypatch.setattr(sheets, "MOST_ROWS", 100)
    path = tmp_path / "plan.xlsx"
    write_workbook(necklace_plan, path, all_sheets=True)
    sheet = openpyxl.load_workbook(path)["rings"]
    assert sheet.max_row == 104
    assert f"100 of {necklace_plan.pieces[0].layout.rings}" in sheet["A2"].value
    assert "rings.csv" in sheet["A2"].value


def test_the_long_sheets_hold_what_the_tables_hold(fair_plan: Plan, fair_book: Path) -> None:
    """Their rows are written as text at once, so read them back with an ordinary reader."""
    from chainplan.report.text.tables import order_table, ring_table

    rings, order = rows_of(fair_book, "rings", "ring"), rows_of(fair_book, "weld order", "step")
    assert len(rings) == sum(piece.layout.rings for piece in fair_plan.pieces)
    first = fair_plan.pieces[1]
    table, start = ring_table(first), fair_plan.pieces[0].layout.rings
    part = rings[start : start + first.layout.rings]
    assert {row["piece"] for row in part} == {first.piece.name}
    for heading, key in (("ring", "ring"), ("along, mm", "x_mm"), ("join at, °", "join_angle_deg")):
        assert [row[heading] for row in part] == table[key].tolist()
    assert [row["electrode from"] for row in part] == table["face"].tolist()
    steps = order_table(fair_plan.pieces[0])
    part = order[: len(steps["step"])]
    assert [row["ring"] for row in part] == steps["ring"].tolist()
    assert [row["high, °C"] for row in part] == steps["interpass_high_c"].tolist()


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
    """Title, header row, print area, one page wide or two with the names repeated."""
    for sheet in openpyxl.load_workbook(fair_book).worksheets:
        assert sheet["A1"].value
        assert sheet["A2"].value
        across = 2 if sheet.title in ("pieces", "piece workings") else 1
        assert sheet.page_setup.fitToWidth == across
        assert bool(sheet.print_title_cols) or across == 1, sheet.title
        assert sheet.print_area, sheet.title


def test_the_sheets_stand_in_their_order_and_the_summary_first(
    necklace_plan: Plan, fair_book: Path, tmp_path: Path
) -> None:
    """What is talked about first, what it rests on last; the long lists only for who asks."""
    assert tuple(openpyxl.load_workbook(fair_book).sheetnames) == ORDER
    path = tmp_path / "plan.xlsx"
    write_workbook(necklace_plan, path)
    read = [name for name in ORDER if name not in ASKED]
    assert openpyxl.load_workbook(path).sheetnames == read
    assert set(ORDER) - set(read) == {"rings", "weld order"}


def test_pages_after_the_first_have_the_header_again(fair_book: Path) -> None:
    """A sheet that ends with a table prints its header on every page, and only that table's."""
    paragraphs = ("notes", "cautions", "summary", "price")
    for sheet in openpyxl.load_workbook(fair_book).worksheets:
        if sheet.title in paragraphs:
            assert sheet.print_title_rows is None, sheet.title
            continue
        first, last = sheet.print_title_rows.replace("$", "").split(":")
        assert first == last
        header = [cell for cell in sheet[int(first)] if cell.value is not None]
        assert len(header) > 3
        assert all(cell.font.bold and cell.fill.fill_type for cell in header), sheet.title
        grey = header[0].fill.fgColor.rgb
        later = [
            row[0].coordinate
            for row in sheet.iter_rows(min_row=int(first) + 1)
            if row[0].fill.fill_type and row[0].fill.fgColor.rgb == grey and row[1].font.bold
        ]
        assert not later, sheet.title


def test_the_customer_s_page_shows_each_piece(fair_plan: Plan, fair_book: Path) -> None:
    """A picture beside every piece that is woven, none beside single joins; and only there."""
    book = openpyxl.load_workbook(fair_book)
    sheet = book["summary"]
    pictures = {image.anchor._from.row + 1: image for image in sheet._images}
    names = [piece.piece.name for piece in fair_plan.pieces]
    woven = {
        5 + names.index(piece.piece.name)
        for piece in fair_plan.pieces
        if any(section.form != "loose" for section in piece.layout.sections)
    }
    assert 0 < len(woven) < len(names)
    assert set(pictures) == woven
    assert not any(other._images for other in book.worksheets if other is not sheet)
    for row, image in pictures.items():
        tall_mm = image.anchor.ext.height / 36_000
        assert tall_mm < sheet.row_dimensions[row].height / 72 * 25.4


def test_sentences_of_the_customer_s_page_follow_the_inputs(
    fair_book: Path, recalculate: Callable[[Path], Path], tmp_path: Path
) -> None:
    """Tax and the price of metal are said as they are on the sheet of inputs."""

    def sentences(path: Path) -> str:
        return "\n".join(str(row[0]) for row in cells_of(path, "summary"))

    before = sentences(fair_book)
    assert "Prices with 0 % tax." in before
    assert "Sterling silver 925 at EUR 1.05 a gram (2027-01-08)" in before
    assert "Copper C110 at EUR 16.00 a kilogram (2027-01-08)" in before
    path = change_inputs(
        fair_book, {"tax_percent": 19.5, "price_metal_sterling_silver_925": 1.37}, tmp_path
    )
    after = sentences(recalculate(path))
    assert "Prices with 19.5 % tax." in after
    assert "Sterling silver 925 at EUR 1.37 a gram; " in after  # the date was the other price's
    assert "Copper C110 at EUR 16.00 a kilogram (2027-01-08)" in after


def test_sheets_that_do_not_follow_the_inputs_say_so(fair_book: Path) -> None:
    """A sheet of figures is live, or says on top that it is not."""
    told = ("time", "dates", "calendar", "buy list", "more copies", "cost drivers", "by torch",
            "what it takes")  # fmt: skip
    live = {sheet for sheet, _ in formulas_of(fair_book)}
    for name in told:
        assert FOLLOWS_NOT in cells_of(fair_book, name)[1][0], name
        assert name not in live


def test_one_more_column_or_row_anywhere_changes_no_total(
    posts_plan: Plan,
    recalculate_all: Callable[[Sequence[Path]], list[Path]],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    """Other cells find a table's cells by row and column, so all of them may move."""
    lay, fill = page.Page.lay, page.Page.fill
    plain = tmp_path / "plain.xlsx"
    write_workbook(posts_plan, plain)
    stored = []
    for place in (0, 2, -1):  # in front, in the middle, at the end

        def lay_more(
            self: Any, headings: Any, keys: Any, *, total: bool = False, place: int = place
        ) -> table.PlacedTable:
            more = list(headings)
            more.insert(place % (len(more) + 1), table.Heading("more", "one more", "int"))
            self.row += 2
            return lay(self, more, [*keys, "one more row"], total=total)

        def fill_more(self: Any, placed: Any, rows: Any, **given: Any) -> None:
            fill(self, placed, [{**row, "more": 7777} for row in [*rows, {}]], **given)

        monkeypatch.setattr(page.Page, "lay", lay_more)
        monkeypatch.setattr(page.Page, "fill", fill_more)
        stored.append(tmp_path / f"stored{place}.xlsx")
        write_workbook(posts_plan, stored[-1])
        assert len(formulas_of(stored[-1])) == len(formulas_of(plain))
        assert set(formulas_of(stored[-1])) != set(formulas_of(plain))
    empty = [without_values(path, path.with_name(f"empty-{path.name}")) for path in stored]
    for before, after in zip(stored, recalculate_all(empty), strict=True):
        assert compare_stored(before, after) > 80


def test_the_summary_says_each_piece_in_words(fair_plan: Plan, fair_book: Path) -> None:
    """A customer reads it: no keys, no money of the workshop, every piece with its weight."""
    rows = rows_of(fair_book, "summary", "what it is")
    assert [row["piece"] for row in rows[: len(fair_plan.pieces)]] == [
        piece.piece.name for piece in fair_plan.pieces
    ]
    for row, piece in zip(rows, fair_plan.pieces, strict=False):
        assert "sterling-silver" not in row["what it is"]
        mass_g = sum(c.mass_g for c in piece.counts)
        mass_g += sum(fitting.mass_g or 0.0 for fitting in piece.piece.fittings)
        assert row["weight each"] == pytest.approx(mass_g, abs=0.01)
        assert not any("cost" in str(heading) for heading in row)
        lies = {section.lies for section in piece.layout.sections if section.lies}
        assert all(str(row["size"]).endswith(f", {word}") for word in lies)
    assert any(section.lies for piece in fair_plan.pieces for section in piece.layout.sections)


def test_chances_are_told_cautiously_and_the_cells_keep_the_numbers(
    fair_plan: Plan, fair_book: Path
) -> None:
    """A simulation of invented paces does not know that a date is kept for certain."""
    sheet = openpyxl.load_workbook(fair_book)["dates"]
    told = [c for row in sheet.iter_rows() for c in row if "better than 99" in c.number_format]
    chances = [line.chance_in_time for line in fair_plan.estimates.due]
    assert [cell.value for cell in told] == pytest.approx(chances)
    assert all('"below 1 %"' in cell.number_format for cell in told)


def test_headings_and_wrapped_text_have_room(fair_book: Path) -> None:
    """No word of a heading is wider than its column, and wrapped rows are tall enough."""
    checked = 0
    for sheet in openpyxl.load_workbook(fair_book).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if not isinstance(cell.value, str) or not cell.alignment.wrap_text:
                    continue
                width = sheet.column_dimensions[cell.column_letter].width
                if cell.font.bold and cell.fill.fill_type:
                    longest = max(map(len, cell.value.split()), default=0)
                    assert longest <= width * 1.25, (sheet.title, cell.value)
                    checked += 1
                elif "\n" in cell.value:
                    lines = cell.value.count("\n") + 1
                    assert (sheet.row_dimensions[cell.row].height or 0) >= 12 * lines
                    checked += 1
    assert checked > 100


def test_the_sources_list_every_number_of_the_bench(fair_plan: Plan, fair_book: Path) -> None:
    """A value that was used but is not listed could not be checked."""
    from dataclasses import fields

    from chainplan.model.bench.setting import settings_of

    rows = rows_of(fair_book, "sources", "about")
    listed = {(row["about"], row["value"]) for row in rows}
    for group in fields(fair_plan.job.bench):
        settings = getattr(fair_plan.job.bench, group.name)
        for info in settings_of(group.name, type(settings)):
            assert (group.name, info.means) in listed
    assert all(row["source"] for row in rows)
    assert not any("_" in row["value"] for row in rows)


def test_what_if_shows_breaks_drivers_and_the_torch(fair_plan: Plan, fair_book: Path) -> None:
    """The same figures as the estimates hold."""
    estimates = fair_plan.estimates
    breaks = rows_of(fair_book, "more copies", "10 copies")
    ten = next(x for x in estimates.breaks if x.quantity == 10)
    assert breaks[0]["10 copies"] == float(ten.cost_each)
    torch = {row["piece"]: row for row in rows_of(fair_book, "by torch", "rounds by torch")}
    for line in estimates.torch:
        assert torch[line.piece]["rounds by torch"] == line.rounds
        assert torch[line.piece]["saved each"] == float(line.saved_each)
    drivers = rows_of(fair_book, "cost drivers", "moves it by")
    assert drivers[0]["input"] == estimates.drivers[0].driver
    assert drivers[0]["moves it by"] == float(estimates.drivers[0].swing)


def test_the_same_plan_gives_the_same_bytes(
    fair_plan: Plan, fair_book: Path, tmp_path: Path
) -> None:
    """No clock in the file or in its archive, no chance."""
    from zipfile import ZipFile

    again = tmp_path / "plan.xlsx"
    write_workbook(fair_plan, again, all_sheets=True)
    assert again.read_bytes() == fair_book.read_bytes()
    with ZipFile(again) as archive:
        assert {item.date_time[0] for item in archive.infolist()} == {1980}
        assert archive.testzip() is None


def test_letter_paper_is_set_on_every_sheet(necklace_plan: Plan, tmp_path: Path) -> None:
    """For printers that hold no A4."""
    path = tmp_path / "plan.xlsx"
    write_workbook(necklace_plan, path, paper="Letter")
    sizes = {str(sheet.page_setup.paperSize) for sheet in openpyxl.load_workbook(path).worksheets}
    assert sizes == {"1"}


def test_version_is_in_the_stamp(necklace_plan: Plan) -> None:
    """Who made a figure can be told later."""
    assert chainplan.__version__ in str(necklace_plan.stamp)
