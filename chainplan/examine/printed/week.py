"""The pages for the wall against the blocks of work in ``plan.json``."""

from __future__ import annotations

import datetime
import re
from collections import Counter
from typing import TYPE_CHECKING

from chainplan.examine.printed.bench_sheets import told_of
from chainplan.examine.printed.pages import bare, read_pages
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

WEEK = "week.pdf"
_TIMES = re.compile(r"(\d\d:\d\d) – (\d\d:\d\d)")


@check("the weeks on the wall are the schedule")
def check_week(files: PlanFiles, teller: Teller) -> None:
    """Every block stands on the pages with its times and its work, and nothing else does."""
    path = files.folder / WEEK
    blocks = files.plan["schedule"]["blocks"]
    if not blocks:
        teller.true(WEEK, "the file", not path.exists(), "pages", "none without dates")
        return
    if not path.is_file():
        teller.tell(WEEK, "the file", "is not there", "pages of the weeks")
        return
    text = "\n".join("\n".join(page.lines) for page in read_pages(path))
    found = Counter(_TIMES.findall(text))
    wanted = Counter((block["start"][11:16], block["end"][11:16]) for block in blocks)
    for times in sorted({*found, *wanted}):
        teller.same(WEEK, f"{times[0]} – {times[1]}", found[times], wanted[times])
    shown = bare(text)
    for block in blocks:
        day = datetime.date.fromisoformat(block["start"][:10])
        place = f"{block['person']} at {block['start']}"
        for words in (told_of(block), f"{day:%a} {day.day} {day:%b}", block["person"]):
            teller.true(WEEK, place, bare(words) in shown, "not on the pages", words)
