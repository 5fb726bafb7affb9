"""Weaves: data files solved into ring geometry, and pieces laid out from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.on_demand import names_on_demand

if TYPE_CHECKING:
    from chainplan.weave.filecheck import WeaveReport, check_weave
    from chainplan.weave.fit import (
        feel_of,
        feels_of,
        inner_range_of_feel,
        series_mm,
        size_ring,
    )
    from chainplan.weave.laying.piece import (
        fit_piece,
        lay_piece,
        length_of_joints_mm,
        parts_of_fittings,
    )
    from chainplan.weave.laying.section import find_least_inner_mm
    from chainplan.weave.library import load_weave, weave_keys
    from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solve_cached
    from chainplan.weave.solving.limits import judge_ring
    from chainplan.weave.solving.solver import solve_repeat

__all__ = [
    "WeaveReport",
    "check_weave",
    "feel_of",
    "feels_of",
    "find_least_inner_mm",
    "find_smallest_aspect_ratio",
    "fit_piece",
    "inner_range_of_feel",
    "judge_ring",
    "lay_piece",
    "length_of_joints_mm",
    "load_weave",
    "parts_of_fittings",
    "series_mm",
    "size_ring",
    "solve_cached",
    "solve_repeat",
    "weave_keys",
]

_HOME = {
    "WeaveReport": "filecheck",
    "check_weave": "filecheck",
    "feel_of": "fit",
    "feels_of": "fit",
    "find_least_inner_mm": "laying.section",
    "find_smallest_aspect_ratio": "solving.cache",
    "fit_piece": "laying.piece",
    "inner_range_of_feel": "fit",
    "judge_ring": "solving.limits",
    "lay_piece": "laying.piece",
    "length_of_joints_mm": "laying.piece",
    "load_weave": "library",
    "parts_of_fittings": "laying.piece",
    "series_mm": "fit",
    "size_ring": "fit",
    "solve_cached": "solving.cache",
    "solve_repeat": "solving.solver",
    "weave_keys": "library",
}

__getattr__ = names_on_demand(__name__, _HOME)
