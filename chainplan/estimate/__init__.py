"""What pieces and batch take: wire, settings, gas, tips, time and money.

The names are imported when they are first used: the quick answers need only a ring's mass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from chainplan.estimate.batch import estimate_counts, estimate_job
    from chainplan.estimate.compare import alternatives, compare_pieces
    from chainplan.estimate.counts import count_from_table, first_settings, settings_of_layout
    from chainplan.estimate.rings import ring_mass_g, ring_wire_mm
    from chainplan.estimate.take import take_counted
    from chainplan.estimate.welder import first_setting
    from chainplan.estimate.what_if import change_job, weigh_changes
    from chainplan.estimate.wire import measured_ring
    from chainplan.estimate.works import works_of

_HOME = {
    "alternatives": "compare",
    "change_job": "what_if",
    "compare_pieces": "compare",
    "count_from_table": "counts",
    "estimate_counts": "batch",
    "estimate_job": "batch",
    "first_setting": "welder",
    "first_settings": "counts",
    "measured_ring": "wire",
    "ring_mass_g": "rings",
    "ring_wire_mm": "rings",
    "settings_of_layout": "counts",
    "works_of": "works",
    "take_counted": "take",
    "weigh_changes": "what_if",
}

__all__ = [
    "alternatives",
    "change_job",
    "compare_pieces",
    "count_from_table",
    "estimate_counts",
    "estimate_job",
    "first_setting",
    "first_settings",
    "measured_ring",
    "ring_mass_g",
    "ring_wire_mm",
    "settings_of_layout",
    "take_counted",
    "weigh_changes",
    "works_of",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first used."""
    if name not in _HOME:
        message = f"module 'chainplan.estimate' has no attribute {name!r}"
        raise AttributeError(message)
    from importlib import import_module

    value = getattr(import_module(f"chainplan.estimate.{_HOME[name]}"), name)
    globals()[name] = value
    return value
