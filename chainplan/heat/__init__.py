"""The heat stage: a thermal network of rings, and how welding warms it."""

from chainplan.heat.exposure import ExposureFit, calibrate_exposure
from chainplan.heat.piece import PieceHeatModel, build_heat_model, fit_exposure

__all__ = [
    "ExposureFit",
    "PieceHeatModel",
    "build_heat_model",
    "calibrate_exposure",
    "fit_exposure",
]
