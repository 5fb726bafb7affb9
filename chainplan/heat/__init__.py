"""The heat stage: a thermal network of rings, and how welding warms it."""

from chainplan.heat.measured.cooling import (
    ROOM_WITHIN_K,
    bench_of_loose_ring,
    bench_of_pulsed_ring,
    bench_of_warm_piece,
    fit_cooling,
    ranges_of,
)
from chainplan.heat.measured.readings import read_readings
from chainplan.heat.network import CALIBRATED_SPREAD, link_load_mn
from chainplan.heat.piece import PieceHeatModel, build_heat_model
from chainplan.heat.touching import stand_by
from chainplan.heat.touching_words import say_stand_by, warn_of_spots

__all__ = [
    "CALIBRATED_SPREAD",
    "ROOM_WITHIN_K",
    "PieceHeatModel",
    "bench_of_loose_ring",
    "bench_of_pulsed_ring",
    "bench_of_warm_piece",
    "build_heat_model",
    "fit_cooling",
    "link_load_mn",
    "ranges_of",
    "read_readings",
    "say_stand_by",
    "stand_by",
    "warn_of_spots",
]
