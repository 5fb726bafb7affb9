"""How far pieces of a batch are interleaved."""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import tuned


@frozen
class BatchTuning:
    """How far pieces of a batch are interleaved."""

    most_checked: int = tuned(
        20_000,
        "Joins of a piece up to which its interleaved times are simulated; larger ones are not"
        " interleaved.",
        chosen="judgement: a simulation a copy and corner",
        less="10000: the same",
        more="40000: the same",
    )
    most_stints: int = tuned(
        200,
        "Stints of a copy up to which it is put down in between.",
        chosen="judgement: more of them nobody follows",
        less="100: the same",
        more="400: the same",
    )
    worth_changes: float = tuned(
        2.0,
        "A wait is worth putting the piece down for from so many changes of piece on, and a "
        "stint is worth taking it up for.",
        chosen="judgement: one to put it down, one to take it up; fewer changes lose time, more "
        "leave waits idle",
        less="1: chain with a stone: 4 instead of 3 stints",
        more="4: chain with a stone: 2 instead of 3 stints",
    )
