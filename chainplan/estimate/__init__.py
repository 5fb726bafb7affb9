"""What pieces and batch take: wire, settings, gas, tips, time and money.

The names are imported when they are first used: the quick answers need only a ring's mass.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from chainplan.estimate.batch import estimate_counts, estimate_job
    from chainplan.estimate.compare import alternatives, compare_pieces
    from chainplan.estimate.counts import settings_of_layout
    from chainplan.estimate.rings import ring_mass_g, ring_wire_mm
    from chainplan.estimate.welder import first_setting
    from chainplan.estimate.works import works_of

_HOME = {
    "alternatives": "compare",
    "compare_pieces": "compare",
    "estimate_counts": "batch",
    "estimate_job": "batch",
    "first_setting": "welder",
    "ring_mass_g": "rings",
    "ring_wire_mm": "rings",
    "settings_of_layout": "counts",
    "works_of": "works",
}

__all__ = [
    "alternatives",
    "compare_pieces",
    "estimate_counts",
    "estimate_job",
    "first_setting",
    "ring_mass_g",
    "ring_wire_mm",
    "settings_of_layout",
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
