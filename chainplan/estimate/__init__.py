"""What pieces and batch take: wire, settings, gas, tips, time and money.

The names are imported when they are first used: the quick answers need only a ring's mass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.on_demand import names_on_demand

if TYPE_CHECKING:
    from chainplan.estimate.batch import estimate_counts, estimate_job
    from chainplan.estimate.counts import count_from_table, first_settings
    from chainplan.estimate.material.rings import ring_mass_g, ring_wire_mm
    from chainplan.estimate.material.wire import measured_ring
    from chainplan.estimate.price.compare import alternatives, compare_pieces, tax_in_words
    from chainplan.estimate.price.money import quote_take
    from chainplan.estimate.price.quick import cannot_be_made, quote_piece, sum_quotes
    from chainplan.estimate.price.what_if import change_job, weigh_changes
    from chainplan.estimate.pulse.welder import first_setting
    from chainplan.estimate.take import take_counted
    from chainplan.estimate.works import works_of

_HOME = {
    "alternatives": "price.compare",
    "cannot_be_made": "price.quick",
    "change_job": "price.what_if",
    "compare_pieces": "price.compare",
    "count_from_table": "counts",
    "estimate_counts": "batch",
    "estimate_job": "batch",
    "first_setting": "pulse.welder",
    "first_settings": "counts",
    "measured_ring": "material.wire",
    "quote_piece": "price.quick",
    "ring_mass_g": "material.rings",
    "ring_wire_mm": "material.rings",
    "works_of": "works",
    "quote_take": "price.money",
    "sum_quotes": "price.quick",
    "take_counted": "take",
    "tax_in_words": "price.compare",
    "weigh_changes": "price.what_if",
}

__all__ = [
    "alternatives",
    "cannot_be_made",
    "change_job",
    "compare_pieces",
    "count_from_table",
    "estimate_counts",
    "estimate_job",
    "first_setting",
    "first_settings",
    "measured_ring",
    "quote_piece",
    "quote_take",
    "ring_mass_g",
    "ring_wire_mm",
    "sum_quotes",
    "take_counted",
    "tax_in_words",
    "weigh_changes",
    "works_of",
]

__getattr__ = names_on_demand(__name__, _HOME)
