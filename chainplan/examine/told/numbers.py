"""No number that is missing or no number: every value of the files is finite or may be empty."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

MAY_BE_EMPTY = {
    "usual_after_s", "high_after_s", "ends_usual_s", "ends_high_s", "saved_usual_s",
    "saved_high_s", "mandrel_mm", "asked_mm", "wanted_mm", "due_h", "due_s", "day_starts_h",
    "into_w_k", "conductivity_w_m_k",
}  # fmt: skip
"""Keys of plan.json with a unit that may hold null all the same: what there is none of."""
NOT_KNOWN = {"mass_g", "limit_c"}
"""Keys of a fitting that may hold null: what nobody told."""
_UNITS = (
    "_mm", "_c", "_s", "_g", "_k", "_j", "_m", "_min", "_h", "_deg", "_per_cm", "_share", "_ratio",
)  # fmt: skip
"""Endings of keys that hold a number, where null would stand for one that is none."""
_UNDRAWABLE = (b"nan", b"inf", b"9223372036854775808")
_DRAWN = re.compile(
    rb'\s(?:points|d|x\d?|y\d?|cx|cy|r|width|height|transform|viewBox|stroke-width)="'
    rb'[^"]*?(?<![A-Za-z])(?:nan|inf|9223372036854775808)'
)


@check("every number is one")
def check_finite(files: PlanFiles, teller: Teller) -> None:
    """No null where a number belongs, nothing beyond reason, nothing undrawable in a picture."""
    for place, key, value in _walk(files.plan, "", ""):
        untold = key in NOT_KNOWN and ", fittings, " in place
        if value is None and key.endswith(_UNITS) and key not in MAY_BE_EMPTY and not untold:
            teller.tell(PLAN, place, "nothing", "a value")
        elif isinstance(value, (int, float)) and abs(value) > 1e12:
            teller.tell(PLAN, place, value, "a number within reason")
    for place, _, value in _walk(files.sheet, "", ""):
        if value is None or (isinstance(value, (int, float)) and abs(value) > 1e12):
            teller.tell(SHEET, place, value, "a number within reason")
    for path in sorted(files.folder.rglob("*.svg")):
        text = path.read_bytes()
        found = _DRAWN.search(text) if any(word in text for word in _UNDRAWABLE) else None
        if found is not None:
            name = path.relative_to(files.folder).as_posix()
            teller.tell(name, "a mark", found.group(0)[:60], "a place on the page")


def _walk(value: Any, place: str, key: str) -> Iterator[tuple[str, str, Any]]:
    if isinstance(value, dict):
        for name, item in value.items():
            yield from _walk(item, f"{place}, {name}" if place else str(name), str(name))
    elif isinstance(value, list):
        if value and isinstance(value[0], (int, float)):
            if None in value:
                yield f"{place}, {value.index(None) + 1}", key, None
            largest = max((item for item in value if isinstance(item, (int, float))), key=abs)
            yield place, key, largest
        else:
            for k, item in enumerate(value, 1):
                yield from _walk(item, f"{place}, {k}", key)
    else:
        yield place, key, value
