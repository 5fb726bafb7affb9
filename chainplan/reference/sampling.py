"""How many joins of a lot to check, and how many bad ones it may have: ISO 2859-1."""

from __future__ import annotations

import hashlib
from functools import cache
from typing import TYPE_CHECKING

from chainplan.errors import Fault, InputError
from chainplan.frozen import frozen
from chainplan.reference.checked.tables import read_table, source_text

if TYPE_CHECKING:
    from chainplan.arrays import FloatArray, IndexArray

NEXT_STEP = {
    "accept": "hand the lot on; weld the joins that were found bad again",
    "reject": "look at every join of the lot, weld the bad ones again, find the cause before the "
    "next lot, and draw a new sample",
    "go on checking": "check the joins drawn that are not checked yet",
}
"""What follows from each verdict."""


@frozen
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


def chances(job: str, piece: str, copy: int, rings: int, seed: int) -> FloatArray:
    """Give each ring of one copy a number between 0 and 1 by chance, the same for the same words.

    The joins of a lot with the smallest numbers are its sample: so each has the same chance, and
    a copy more or a lot divided in two leaves most of a sample as it was.

    Parameters
    ----------
    job, piece : str
        Names.
    copy : int
        Which copy, from 1.
    rings : int
        Rings of one copy.
    seed : int
        Another seed draws other joins.
    """
    import numpy as np

    said = "\x1f".join((job, piece, str(copy), str(seed))).encode()
    found: FloatArray = np.random.default_rng(list(hashlib.sha256(said).digest())).random(rings)
    return found


def drawn(chance: FloatArray, size: int) -> IndexArray:
    """Return the indices of the joins with the smallest numbers, ascending.

    Examples
    --------
    >>> import numpy as np
    >>> drawn(np.array([0.4, 0.1, 0.9, 0.2]), 2).tolist()
    [1, 3]
    """
    import numpy as np

    found: IndexArray = np.sort(np.argsort(chance, kind="stable")[:size])
    return found


def judge(size: int, reject: int, good: int, bad: int) -> str:
    """Say what the checks of a sample come to so far: one of :data:`NEXT_STEP`."""
    if bad >= reject:
        return "reject"
    return "accept" if good + bad >= size else "go on checking"
