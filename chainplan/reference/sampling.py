"""How many joins of a lot to check, and how many bad ones it may have: ISO 2859-1."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from chainplan.errors import Fault, InputError
from chainplan.reference.checked.tables import read_table, source_text


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplingPlan:
    """Single sampling, normal inspection, general level II."""

    lot: int
    aql_percent: float
    letter: str  # after following the arrows
    size: int  # the whole lot if it is no larger than the sample
    accept: int  # most bad joins with which the lot is accepted
    source: str

    @property
    def reject(self) -> int:
        """Fewest bad joins with which the lot is rejected."""
        return self.accept + 1


@cache
def limits_percent() -> tuple[float, ...]:
    """List the acceptance quality limits that the table has, in per cent."""
    return tuple(sorted({float(row["aql"]) for row in read_table("sampling_plans")}))


def sampling_plan(lot: int, aql_percent: float = 1.0) -> SamplingPlan:
    """Say how many joins of a lot are checked and how many may be bad.

    Parameters
    ----------
    lot : int
        Joins of the lot.
    aql_percent : float
        Acceptance quality limit, one of :func:`limits_percent`.

    Raises
    ------
    InputError
        If the lot is empty or the table has no such limit.

    Notes
    -----
    Where the table has an arrow instead of a plan, the first plan in its direction is taken with
    its own sample size: up behind the plan that accepts none, down before the one that accepts
    one, up behind the last.

    Examples
    --------
    >>> plan = sampling_plan(1000, 1.0)
    >>> plan.letter, plan.size, plan.accept, plan.reject
    ('J', 80, 2, 3)
    >>> plan = sampling_plan(100, 1.0)    # letter F has an arrow up to E
    >>> plan.letter, plan.size, plan.accept
    ('E', 13, 0)
    """
    if lot < 1:
        raise InputError(Fault("sampling", "a lot without joins", "draw from joins that are done"))
    if aql_percent not in limits_percent():
        known = ", ".join(f"{limit:g}" for limit in limits_percent())
        raise InputError(
            Fault(
                "sampling", f"an acceptance quality limit of {aql_percent:g} %", f"one of {known}"
            )
        )
    sizes = {row["letter"]: row for row in read_table("sampling_sizes")}
    letters = list(sizes)
    wanted = next(
        (letter for letter in letters if lot <= int(sizes[letter]["lot_most"])), letters[-1]
    )
    column = {
        row["letter"]: row
        for row in read_table("sampling_plans")
        if float(row["aql"]) == aql_percent
    }
    letter = _follow_arrows(wanted, letters, list(column))
    row = column[letter]
    return SamplingPlan(
        lot=lot,
        aql_percent=aql_percent,
        letter=letter,
        size=min(int(sizes[letter]["size"]), lot),
        accept=int(row["accept"]),
        source=source_text(row),
    )


def _follow_arrows(wanted: str, letters: list[str], planned: list[str]) -> str:
    """Find the plan that an arrow leads to."""
    if wanted in planned:
        return wanted
    at = letters.index(wanted)
    before = [letter for letter in planned if letters.index(letter) < at]
    after = [letter for letter in planned if letters.index(letter) > at]
    if not before or not after:
        return after[0] if after else before[-1]
    return before[-1] if letters.index(before[-1]) == at - 1 else after[0]
