"""The order to weld in: passes and waits within the limits, with a proof of how good they are."""

from chainplan.order.planner import find_order
from chainplan.order.proof.given import GivenOrder, read_order
from chainplan.order.proof.verify import pace_start_s, verify_order
from chainplan.order.resume import (
    Before,
    Resumed,
    begin_after_s,
    begin_warm,
    limits_of_order,
    resume_order,
)
from chainplan.order.say.causes import seconds_by_cause
from chainplan.order.stints import cut_order, warm_pieces

__all__ = [
    "Before",
    "GivenOrder",
    "Resumed",
    "begin_after_s",
    "begin_warm",
    "cut_order",
    "find_order",
    "limits_of_order",
    "pace_start_s",
    "read_order",
    "resume_order",
    "seconds_by_cause",
    "verify_order",
    "warm_pieces",
]
