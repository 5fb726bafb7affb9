"""The order to weld in: passes and waits within the limits, with a proof of how good they are."""

from chainplan.order.batch import order_batch
from chainplan.order.planner import find_order
from chainplan.order.proof.given import GivenOrder, read_order
from chainplan.order.proof.verify import pace_start_s, verify_order

__all__ = [
    "GivenOrder",
    "find_order",
    "order_batch",
    "pace_start_s",
    "read_order",
    "verify_order",
]
