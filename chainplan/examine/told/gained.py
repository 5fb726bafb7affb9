"""What a plan says of its gains: every temperature and moment of it stands in ``gains``."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check
from chainplan.examine.said import DURATION, seconds_of

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

_PASSED = re.compile(
    rf"(\d+) °C(?: \([^)]*\))? after ({DURATION})(?: at the usual values)?"
    rf"(?: \(({DURATION}|as soon) at the bad end\))?"
)
_BELOW = re.compile(r"below (\d+) °C \((\d+)(?: at the bad end)?\)")
_NEAREST = re.compile(
    r"Nearest to its limit comes the (.+): (-?\d+) °C at the usual values, (-?\d+) °C at the bad "
    r"end, limit (\d+) °C\."
)


@check("gains are said as they were measured")
def check_gains_said(files: PlanFiles, teller: Teller) -> None:
    """When limits are passed end to end, how warm the order stays, and what comes nearest."""
    for piece in files.pieces:
        gains, said = piece.order["gains"], " ".join(piece.order["gained"])
        if gains is None:
            continue
        place, items = f"{piece.name}, gained", gains["unpaused"]
        broken = [item for item in items if item["high_after_s"] is not None]
        passed = re.search(r"Welded end to end without a pause, ([^.]*)\.", said)
        if passed:
            told = list(_PASSED.finditer(passed.group(1)))
            teller.same(PLAN, f"{place}, limits passed", len(told), len(broken))
            for match in told:
                good = any(_is_of(item, *match.groups()) for item in broken)
                teller.true(PLAN, place, good, match.group(0), "a limit and moment of gains")
        below = re.search(r"In this order ([^.]*)\.", said)
        for match in _BELOW.finditer(below.group(1)) if below else ():
            for words, end in zip(match.groups(), ("usual", "high"), strict=True):
                known = {item[f"order_{end}_c"] for item in broken}
                good = any(_stays_below(value, int(words)) for value in known)
                teller.true(PLAN, f"{place}, {end}", good, match.group(0), sorted(known))
        near = _NEAREST.search(said)
        if near:
            numbers = [
                [f"{item[key]:.0f}" for key in ("usual_c", "high_c", "limit_c")]
                for item in items
                if item["said"] == near.group(1)
            ]
            teller.true(PLAN, place, [*near.groups()[1:]] in numbers, near.group(0), numbers)


def _is_of(item: dict[str, Any], limit: str, after: str, at_bad: str | None) -> bool:
    """Whether a limit is passed then: at the usual values and at the bad end, or there alone."""
    if f"{item['limit_c']:.0f}" != limit:
        return False
    if at_bad is None:
        return item["usual_after_s"] is None and _at(item["high_after_s"], after)
    bad = after if at_bad == "as soon" else at_bad
    return _at(item["usual_after_s"], after) and _at(item["high_after_s"], bad)


def _at(value_s: float | None, told: str) -> bool:
    if value_s is None:
        return False
    low, high = seconds_of(told)
    slack = 0.06 + 1e-5 * value_s  # written with six digits
    return low - slack <= value_s <= high + slack


def _stays_below(value_c: float, told: int) -> bool:
    return math.ceil(value_c - 1e-3) <= told <= math.ceil(value_c + 1e-3)
