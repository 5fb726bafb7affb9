"""The pages of the job workbook that explain: how to fill it in, and every column."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.job.columns import columns
from chainplan.job.written.style import LINE_HEIGHT, Style
from chainplan.model.prices import EXTRA, METAL_UNITS, PRICE_ITEMS, WIRE_PREMIUM

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

TEXT_LETTERS = 96
"""Letters in a line of the read-me: a portrait page at full size."""
STEPS = (
    ("What this is", ""),
    ("", "One job for chainplan: what is to be made, at which bench, at which prices."),
    ("", "Only the sheet pieces is needed. All example rows are invented: write over them."),
    ("How to fill it in", ""),
    ("1", "pieces: one row is one piece. Bold headings are needed, slanted ones may stay empty."),
    ("2", "Boxed cells with a tint are for you; cells without a box only explain."),
    ("3", "Point at a heading to read what belongs there; the sheet columns lists all of them."),
    ("4", "A bare number has the unit of its heading. Text may name another: 7.5 in, 45 cm."),
    ("5", "A gauge always names its system: 18AWG is 1.02 mm, 18SWG is 1.22 mm."),
    ("6", "bench: your welder, your pace, your rates. The defaults are invented or practice; each "
          "row says which. Change the values only."),
    ("7", "prices, stock, parts (what must not get hot), metals of your own, and recorded "
          "(settings that were good, rings that you measured): as you need them."),
    ("8", "A clasp: a plain one needs its length in 'clasp length' of pieces, and the price item "
          "clasp. A row in fittings instead, where it has a price, mass or delivery of its own, or "
          "an end ring, stone or charm beside it. A row in parts, where its spring must not get "
          "hot; a fitting says that itself, in 'heat kind'."),
    ("Several stretches in one piece", ""),
    ("", "Give the rows the same name and number them 1, 2, 3 … in the column section. What holds "
         "for the whole piece (quantity, clasp, due …) stands in the first."),
    ("Joins without a weave", ""),
    ("", "Write loose-joins as the weave and the number of joins in rings: pendant rings, earring "
         "posts and the like."),
    ("Then", ""),
    ("", "chainplan check FILE tells every fault with its cell; chainplan plan FILE plans."),
    ("Mind", ""),
    ("", "All results are estimates to try on scrap first. The maker's manual, local rules and "
         "licensed practice come first."),
)  # fmt: skip


def write_read_me(page: Worksheet) -> None:
    """Write the first sheet: how to fill the workbook in."""
    style = Style()
    page.title = "read me"
    page.column_dimensions["A"].width = 4
    page.column_dimensions["B"].width = TEXT_LETTERS
    page["A1"] = "A job for chainplan"
    style.title(page["A1"])
    page.row_dimensions[1].height = 24
    place = 3
    for mark, text in STEPS:
        if not text:
            page.cell(place, 1, mark)
            style.title(page.cell(place, 1))
        else:
            page.cell(place, 1, mark)
            style.plain(page.cell(place, 1))
            page.cell(place, 2, text)
            style.plain(page.cell(place, 2))
            page.row_dimensions[place].height = LINE_HEIGHT * (1 + len(text) // TEXT_LETTERS)
        place += 1
    style.print_setup(page, place, 2)
    page.page_setup.orientation = "portrait"
    page.sheet_view.showGridLines = False


def write_columns_sheet(page: Worksheet) -> None:
    """Write the sheet that explains every column of every sheet, and every price item."""
    style = Style()
    rows = [
        (
            column.sheet,
            column.name,
            column.unit,
            column.required,
            column.meaning + (f" ({', '.join(column.choices)})" if column.choices else ""),
            column.example,
        )
        for column in columns()
    ]
    rows += [
        ("prices", item.item, "per " + ", ".join(item.per), "no", item.means, "")
        for item in PRICE_ITEMS
    ]
    units = "per " + ", ".join(METAL_UNITS)
    rows.append(("prices", "a metal's key", units, "no", "the metal itself", "sterling-silver"))
    means = "what wire costs above its metal"
    own = "what every copy costs besides, or the job once, shared by all copies"
    rows.append(
        ("prices", f"{EXTRA} and words of yours", "per each, job", "no", own, "extra stamp")
    )
    premium = f"{WIRE_PREMIUM} and a metal's key"
    rows.append(("prices", premium, f"{units}, m", "no", means, f"{WIRE_PREMIUM} copper"))
    headings = (("sheet", 12), ("column", 26), ("unit", 16), ("needed", 20), ("meaning", 70))
    for number, (text, width) in enumerate((*headings, ("example", 24)), 1):
        style.heading(page.cell(1, number, text), needed=True)
        page.column_dimensions["ABCDEF"[number - 1]].width = width
    for place, row in enumerate(rows, 2):
        for number, text in enumerate(row, 1):
            cell = page.cell(place, number, text)
            style.shown(cell)
        style.fit_height(page, place, dict(zip("ABCDEF", row, strict=True)))
    page.freeze_panes = "C2"
    style.print_setup(page, 1 + len(rows), 6)
