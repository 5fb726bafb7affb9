"""The sheet to fill in by hand is empty, has the columns of a log, and offers the plan's pieces."""

from __future__ import annotations

import html
import re
import zipfile
from typing import TYPE_CHECKING

from chainplan.examine.printed.cells import read_cells
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

BY_HAND = "record-by-hand.xlsx"
_COLUMNS = (
    "result", "at", "person", "piece", "copy", "ring", "work_s", "waited_s", "station", "minutes",
    "power_j", "hits", "tip", "bar", "metal", "wire_mm", "mandrel_mm", "lot", "what", "value",
    "note",
)  # fmt: skip
_OFFERED = re.compile(r"<formula1>(.*?)</formula1>", re.DOTALL)
_LONGEST = 250
"""Letters that a drop-down's own list may have; longer ones are left out."""


@check("the sheet to fill in is the plan's")
def check_by_hand(files: PlanFiles, teller: Teller) -> None:
    """Look at its columns and at the names that it offers."""
    path = files.folder / BY_HAND
    if not path.is_file():
        teller.tell(BY_HAND, "the file", "is not there", "a sheet to fill in")
        return
    sheets = read_cells(path)
    first = sheets.get("what happened", {})
    heading = tuple(first.get(1, {}).values())
    teller.same(BY_HAND, "columns", heading, _COLUMNS)
    teller.same(BY_HAND, "filled rows", sorted(first.keys() - {1}), [])
    told = {row.get("A") for row in sheets.get("columns", {}).values()}
    missing = [name for name in _COLUMNS if name not in told]
    teller.true(BY_HAND, "what the columns take", not missing, f"not {missing[:3]}", "every column")
    names = [piece.name for piece in files.pieces]
    listed = ",".join(names)
    if len(listed) <= _LONGEST and not any("," in name or '"' in name for name in names):
        with zipfile.ZipFile(path) as packed:
            page = packed.read("xl/worksheets/sheet1.xml").decode("utf-8")
        offered = [html.unescape(text) for text in _OFFERED.findall(page)]
        teller.true(BY_HAND, "pieces", f'"{listed}"' in offered, offered[:2], listed)
