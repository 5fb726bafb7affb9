"""No number that is missing or no number: every value of the files is finite or may be empty."""

from __future__ import annotations

import itertools
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
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
MOST = 1e12
"""No length, time, mass or price of a piece of chain comes near it."""
_Way = tuple[Any, str]
"""A way into a file: that of what holds it, and its own name."""
_UNDRAWABLE = (b"nan", b"inf", b"9223372036854775808")
_DRAWN = re.compile(
    rb'\s(?:points|d|x\d?|y\d?|cx|cy|r|width|height|transform|viewBox|stroke-width)="'
    rb'[^"]*?(?<![A-Za-z])(?:nan|inf|9223372036854775808)'
)


@check("every number is one")
def check_finite(files: PlanFiles, teller: Teller) -> None:
    """No null where a number belongs, nothing beyond reason, nothing undrawable in a picture."""
    for place, key, value in _odd(files.plan, "", None, []):
        untold = key in NOT_KNOWN and ", fittings, " in place
        if value is not None:
            teller.tell(PLAN, place, value, "a number within reason")
        elif key.endswith(_UNITS) and key not in MAY_BE_EMPTY and not untold:
            teller.tell(PLAN, place, "nothing", "a value")
    for place, _, value in _odd(files.sheet, "", None, []):
        teller.tell(SHEET, place, value, "a number within reason")
    for path in sorted(files.folder.rglob("*.svg")):
        text = path.read_bytes()
        found = _DRAWN.search(text) if any(word in text for word in _UNDRAWABLE) else None
        if found is not None:
            name = path.relative_to(files.folder).as_posix()
            teller.tell(name, "a mark", found.group(0)[:60], "a place on the page")


def _odd(
    value: Any, key: str, way: _Way | None, found: list[tuple[str, str, Any]]
) -> list[tuple[str, str, Any]]:
    """Add place, key and value of each null and each number beyond reason; all else is passed by.

    Places are put into words for these alone: a large plan has some hundred thousand values.
    """
    if isinstance(value, dict):
        for name, item in value.items():
            kind = type(item)
            if kind is str or ((kind is int or kind is float) and -MOST <= item <= MOST):
                continue
            _odd(item, str(name), (way, str(name)), found)
    elif isinstance(value, list):
        if not _all_within_reason(value):
            for k, item in enumerate(value, 1):
                _odd(item, key, (way, str(k)), found)
    elif value is None or (isinstance(value, (int, float)) and abs(value) > MOST):
        names: list[str] = []
        while way is not None:
            way, name = way
            names.append(name)
        found.append((", ".join(reversed(names)), key, value))
    return found


def _all_within_reason(values: list[Any]) -> bool:
    """Whether a list holds numbers or texts alone, none of the numbers beyond reason."""
    kinds = set(map(type, values))
    if kinds == {list}:  # such as the links of each ring: as one list
        values = [*itertools.chain.from_iterable(values)]
        kinds = set(map(type, values))
    if kinds <= {str, bool}:
        return True
    return kinds <= {int, float} and max(values) <= MOST and min(values) >= -MOST
