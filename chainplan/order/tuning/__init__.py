"""Numbers that trade the processor's time against how good an order is, and words against space.

Measured with ``tests/bench/bench_tuning.py order``: a copper bracelet of 28 joins, a copper strip
of 7 rows and 70 rings, a silver chain of 60 with a stone, and a copper chain of 90 by the summed
clock (the long chain). *The same* is to a thousandth; time of the processor is told where it
differs by more than a quarter. Most was measured before units were welded ahead.
``bench_order.py 0 --set room.name=value`` measures a choice on samples and weaves. Numbers that
mean something at the bench or in a proof are no tuning; they stand where they are used.
"""

from __future__ import annotations

from dataclasses import field

from chainplan.frozen import frozen
from chainplan.order.tuning.batch import BatchTuning
from chainplan.order.tuning.clock import ClockTuning
from chainplan.order.tuning.pattern import PatternTuning
from chainplan.order.tuning.proof import ProofTuning
from chainplan.order.tuning.say import SayTuning
from chainplan.order.tuning.search import Effort, SearchTuning

__all__ = [
    "USUAL",
    "BatchTuning",
    "ClockTuning",
    "Effort",
    "OrderTuning",
    "PatternTuning",
    "ProofTuning",
    "SayTuning",
    "SearchTuning",
]


@frozen
class OrderTuning:
    """All of them, by room."""

    clock: ClockTuning = field(default_factory=ClockTuning)
    """Reckoning heat."""
    pattern: PatternTuning = field(default_factory=PatternTuning)
    """Patterns worth trying."""
    search: SearchTuning = field(default_factory=SearchTuning)
    """Choosing and searching."""
    proof: ProofTuning = field(default_factory=ProofTuning)
    """Bound and verifier."""
    say: SayTuning = field(default_factory=SayTuning)
    """What is told."""
    batch: BatchTuning = field(default_factory=BatchTuning)
    """Interleaving."""


USUAL = OrderTuning()
"""What plans are made with."""
