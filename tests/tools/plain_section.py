"""One section of equal rings, as far as tests that lay out rings by themselves need it."""

from __future__ import annotations

from chainplan.model.piece.layout import SectionLayout


def plain_section(rings, links, **values):
    """A chain of silver in 1.0 mm wire, 4.5 mm inside, unless said otherwise."""
    usual = {
        "weave": "invented", "form": "chain", "metal": "sterling-silver", "temper": "annealed",
        "wire_mm": 1.0, "inner_mm": 4.5, "first_ring": 0, "repeats": rings, "rows": 1,
        "shorter_mm": 0.0, "longer_mm": 0.0, "wanted_mm": None, "width_mm": 0.0,
        "thickness_mm": 0.0, "rings_per_cm": 1.0, "computed_rings_per_cm": 1.0,
    }  # fmt: skip
    return SectionLayout(rings=rings, joins=rings, links=links, **usual | values)
