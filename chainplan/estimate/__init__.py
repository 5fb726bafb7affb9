"""What pieces and batch take: wire, settings, gas, tips, time, money and calendar."""

from chainplan.estimate.batch import estimate_counts, estimate_job
from chainplan.estimate.compare import alternatives, compare_pieces
from chainplan.estimate.welder import first_setting
from chainplan.estimate.wire import ring_mass_g, ring_wire_mm

__all__ = [
    "alternatives",
    "compare_pieces",
    "estimate_counts",
    "estimate_job",
    "first_setting",
    "ring_mass_g",
    "ring_wire_mm",
]
