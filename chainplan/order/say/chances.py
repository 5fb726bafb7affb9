"""What chance says of an order, in one sentence."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from chainplan.model.order import Chance

_DECIDES = {
    "arc share": "how much of the arc's heat a ring keeps",
    "links": "how well rings conduct into each other",
    "loss to the air": "how much heat the air takes",
}
ROUNDED = 1e-9
"""A share of draws and a percentage asked for are one number when they are no further apart."""
_SURE = 0.999
"""From there on what decides matters to nobody."""


ONLY_IF_ASKED = (
    "How many plausible benches keep every limit was not reckoned, since the piece is large: "
    "--effort thorough does."
)
ASKED_IN_VAIN = (
    "The reserve in chance that you asked for is not looked at on so large a piece: set one in "
    "kelvin."
)
NOT_BY_KERNELS = (
    "How many plausible benches keep every limit is not reckoned for so large a piece, whose heat "
    "is summed from kernels."
)


def say_chance(chance: Chance | None, left_out: str = "", *, some_aside: bool = False) -> list[str]:
    """Say how many plausible benches keep every limit, and which number decides.

    Parameters
    ----------
    chance : Chance or None
        As reckoned; None if it was not, or there is no limit.
    left_out : str
        Why it was left out for the piece's size, if it was.
    some_aside : bool
        Whether limits that cannot be kept have been set aside, which are not counted.
    """
    if chance is None:
        return [left_out] if left_out else []
    every = "every limit but those that no order keeps" if some_aside else "every limit"
    kept = math.floor(100 * chance.keeps_all + 1e-9)
    if chance.asked > 0:
        asked, share = f"{100 * chance.asked:g}", f"{100 * chance.keeps_all:.4g}"
        if chance.keeps_all >= chance.asked - ROUNDED:
            return [
                f"{share} in 100 plausible benches, drawn by chance, keep {every}; you asked for "
                f"{asked}."
            ]
        return [
            f"Only {share} in 100 plausible benches, drawn by chance, keep {every}; you asked for "
            f"{asked}, which no order tried reaches. What decides is "
            f"{_DECIDES[chance.decides]}: measure it (chainplan calibrate)."
        ]
    if chance.keeps_all >= _SURE:
        return [f"Of {chance.runs} plausible benches, drawn by chance, all but one in a thousand "
                f"keep {every}."]  # fmt: skip
    return [
        f"{kept} in 100 plausible benches, drawn by chance, keep {every}; what decides is "
        f"{_DECIDES[chance.decides]}: measure it (chainplan calibrate)."
    ]
