"""What a warm wire loses to still air: natural convection and radiation, linearised."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np

from chainplan.frozen import frozen

GRAVITY_M_S2 = 9.80665  # standard acceleration, 3rd CGPM 1901
STEFAN_BOLTZMANN_W_M2_K4 = 5.670374419e-8  # CODATA 2018, exact in the SI of 2019
ZERO_C_K = 273.15  # definition of the Celsius scale

# Morgan, Advances in Heat Transfer 11 (1975) 199–264, as the library ht quotes it: Nu = C·Ra^n up
# to a Rayleigh number. Rows: largest Ra, C, n.
_MORGAN = (
    (1e-2, 0.675, 0.058),
    (1e2, 1.02, 0.148),
    (1e4, 0.850, 0.188),
    (1e7, 0.480, 0.250),
)


@frozen
class Air:
    """Dry air at one temperature and 1.01325 bar."""

    temperature_c: float
    conductivity_w_mk: float
    viscosity_m2_s: float
    diffusivity_m2_s: float

    @property
    def prandtl(self) -> float:
        """Viscosity over diffusivity (no unit)."""
        return self.viscosity_m2_s / self.diffusivity_m2_s


@cache
def _air_table() -> np.ndarray:
    path = Path(__file__).with_name("air.csv")
    with path.open(encoding="utf-8", newline="") as file:
        rows = [[float(v) for v in list(row.values())[:4]] for row in csv.DictReader(file)]
    return np.array(rows)


def air_at(temperature_c: float) -> Air:
    """Properties of dry air at a temperature, interpolated in a table; 0 to 400 °C.

    Outside the table the end values hold. Source of the table: CoolProp 8.0.0, a row each 20 to
    100 K; the interpolation is good to 0.2 %.
    """
    table = _air_table()
    conductivity, viscosity, diffusivity = (
        float(np.interp(temperature_c, table[:, 0], table[:, column])) for column in (1, 2, 3)
    )
    return Air(
        temperature_c=temperature_c,
        conductivity_w_mk=conductivity,
        viscosity_m2_s=viscosity * 1e-6,
        diffusivity_m2_s=diffusivity * 1e-6,
    )


def rayleigh_number(diameter_mm: float, surface_c: float, room_c: float, air: Air) -> float:
    """Rayleigh number of a horizontal cylinder, on its diameter (no unit).

    ``Ra = g·β·(Ts − T∞)·D³/(ν·α)`` with β = 1/T of the film (ideal gas).
    """
    film_k = (surface_c + room_c) / 2 + ZERO_C_K
    size_m = diameter_mm * 1e-3
    lift = GRAVITY_M_S2 / film_k * abs(surface_c - room_c) * size_m**3
    return lift / (air.viscosity_m2_s * air.diffusivity_m2_s)


def churchill_chu(rayleigh: float, prandtl: float) -> float:
    """Nusselt number of a long horizontal cylinder in still air, any Rayleigh number up to 1e12.

    Notes
    -----
    ``Nu = {0.60 + 0.387·Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27)}²``.

    References
    ----------
    .. [1] S. W. Churchill, H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1049–1053.

    Examples
    --------
    >>> round(churchill_chu(5.071e6, 0.697), 2)
    23.09
    """
    shape = (1 + (0.559 / prandtl) ** (9 / 16)) ** (8 / 27)
    return float((0.60 + 0.387 * rayleigh ** (1 / 6) / shape) ** 2)


def churchill_chu_laminar(rayleigh: float, prandtl: float) -> float:
    """Nusselt number of a horizontal cylinder, laminar form, 1e-6 < Ra < 1e9.

    ``Nu = 0.36 + 0.518·Ra^(1/4) / [1 + (0.559/Pr)^(9/16)]^(4/9)``; same paper, from memory.
    """
    shape = (1 + (0.559 / prandtl) ** (9 / 16)) ** (4 / 9)
    return float(0.36 + 0.518 * rayleigh**0.25 / shape)


def morgan(rayleigh: float) -> float:
    """Nusselt number of a horizontal cylinder by Morgan's power laws, 1e-10 < Ra < 1e7.

    V. T. Morgan, Advances in Heat Transfer 11 (1975) 199–264, from memory.
    """
    for largest, factor, power in _MORGAN:
        if rayleigh <= largest:
            return float(factor * rayleigh**power)
    _, factor, power = _MORGAN[-1]
    return float(factor * rayleigh**power)


def convection_w_m2_k(diameter_mm: float, surface_c: float, room_c: float) -> tuple[float, ...]:
    """Film coefficients by Churchill–Chu, its laminar form and Morgan. [W/(m² K)]."""
    air = air_at((surface_c + room_c) / 2)
    rayleigh = rayleigh_number(diameter_mm, surface_c, room_c, air)
    scale = air.conductivity_w_mk / (diameter_mm * 1e-3)
    return (
        churchill_chu(rayleigh, air.prandtl) * scale,
        churchill_chu_laminar(rayleigh, air.prandtl) * scale,
        morgan(rayleigh) * scale,
    )


def radiation_w_m2_k(emissivity: float, surface_c: float, room_c: float) -> float:
    """Radiation to surroundings at room temperature, as a film coefficient. [W/(m² K)].

    ``h_r = ε·σ·(Ts² + T∞²)·(Ts + T∞)``, exact for a grey body in large surroundings.
    """
    surface, room = surface_c + ZERO_C_K, room_c + ZERO_C_K
    return emissivity * STEFAN_BOLTZMANN_W_M2_K4 * (surface**2 + room**2) * (surface + room)


def film_range_w_m2_k(
    diameter_mm: float,
    emissivity: tuple[float, float, float],
    room_c: float,
    surface_c: tuple[float, float, float] = (40.0, 60.0, 150.0),
) -> tuple[float, float, float]:
    """Low, usual and high film coefficient of one wire in still air, radiation included.

    The three correlations differ by a third at the Rayleigh numbers of ring wire (1 to 30) and h
    grows with temperature. Low: the lowest of the three at the coolest stated surface; usual: the
    mean of Churchill–Chu and Morgan at the middle one; high: the highest at the warmest.

    Parameters
    ----------
    diameter_mm : float
        Wire diameter. [mm]
    emissivity : tuple of three floats
        Low, usual, high total emissivity. [-]
    room_c : float
        Room temperature. [°C]
    surface_c : tuple of three floats
        Surface temperatures at which the loss is linearised. [°C]

    Returns
    -------
    tuple of three floats
        [W/(m² K)]
    """
    surfaces = [max(value, room_c + 10.0) for value in surface_c]
    low = min(convection_w_m2_k(diameter_mm, surfaces[0], room_c))
    churchill, _, power_law = convection_w_m2_k(diameter_mm, surfaces[1], room_c)
    high = max(convection_w_m2_k(diameter_mm, surfaces[2], room_c))
    glow = [
        radiation_w_m2_k(share, surface, room_c)
        for share, surface in zip(emissivity, surfaces, strict=True)
    ]
    return low + glow[0], (churchill + power_law) / 2 + glow[1], high + glow[2]
