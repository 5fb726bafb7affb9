"""Argon in a cylinder: real-gas contents from a small table of compressibility."""

from __future__ import annotations

import math
from bisect import bisect_right
from functools import cache

from chainplan.errors import InputError
from chainplan.reference.checked.tables import read_table
from chainplan.reference.rising import reach_rising

STANDARD_TEMPERATURE_C = 15.0
STANDARD_PRESSURE_BAR = 1.01325
"""Conditions at which litres of gas are counted here, as gas suppliers count them (ISO 13443)."""
_ZERO_C_IN_K = 273.15  # definition of the Celsius scale


@cache
def _grid() -> tuple[tuple[float, ...], tuple[float, ...], dict[tuple[float, float], float]]:
    cells = {
        (float(row["temperature_c"]), float(row["pressure_bar"])): float(row["value"])
        for row in read_table("gas")
        if row["property"] == "compressibility"
    }
    temperatures = tuple(sorted({temperature for temperature, _ in cells}))
    pressures = tuple(sorted({pressure for _, pressure in cells}))
    return temperatures, pressures, cells


def _place(axis: tuple[float, ...], value: float) -> tuple[int, float]:
    index = min(max(bisect_right(axis, value) - 1, 0), len(axis) - 2)
    return index, (value - axis[index]) / (axis[index + 1] - axis[index])


def compressibility(pressure_bar: float, temperature_c: float = STANDARD_TEMPERATURE_C) -> float:
    """Compressibility Z of argon (no unit), by bilinear interpolation.

    Parameters
    ----------
    pressure_bar : float
        Absolute pressure, 0 to 300. [bar]
    temperature_c : float
        Temperature, −10 to 40. [°C]

    Raises
    ------
    InputError
        If pressure or temperature is outside the table.

    Examples
    --------
    >>> round(compressibility(200.0), 5)
    0.93677
    """
    temperatures, pressures, cells = _grid()
    if not 0 <= pressure_bar <= pressures[-1]:
        message = f"argon at {pressure_bar:g} bar; the table goes from 0 to {pressures[-1]:g} bar"
        raise InputError(message)
    if not temperatures[0] <= temperature_c <= temperatures[-1]:
        message = (
            f"argon at {temperature_c:g} °C; the table goes from {temperatures[0]:g} to "
            f"{temperatures[-1]:g} °C"
        )
        raise InputError(message)
    i, x = _place(temperatures, temperature_c)
    j, y = _place(pressures, pressure_bar)  # below 1 bar the line is drawn on, to Z = 1 at zero
    corner = [[cells[temperatures[i + di], pressures[j + dj]] for dj in (0, 1)] for di in (0, 1)]
    lower = corner[0][0] * (1 - y) + corner[0][1] * y
    upper = corner[1][0] * (1 - y) + corner[1][1] * y
    return lower * (1 - x) + upper * x


def contents_l(
    capacity_l: float, pressure_bar: float, temperature_c: float = STANDARD_TEMPERATURE_C
) -> float:
    """Argon in a cylinder, in litres at 15 °C and 1.01325 bar.

    Parameters
    ----------
    capacity_l : float
        Water capacity of the cylinder. [L]
    pressure_bar : float
        Absolute pressure inside. [bar]
    temperature_c : float
        Temperature of the cylinder. [°C]

    Notes
    -----
    ``V · (p / Z) / T`` against the same at standard state.

    Examples
    --------
    >>> round(contents_l(10.0, 200.0) / 1000, 3)
    2.105
    """
    dense = pressure_bar / compressibility(pressure_bar, temperature_c)
    thin = STANDARD_PRESSURE_BAR / compressibility(STANDARD_PRESSURE_BAR)
    warmth = (STANDARD_TEMPERATURE_C + _ZERO_C_IN_K) / (temperature_c + _ZERO_C_IN_K)
    return capacity_l * dense / thin * warmth


OXYGEN_OF_AIR_PERCENT = 20.95
"""By volume, dry (U.S. Standard Atmosphere, 1976)."""
OXYGEN_LEAST_PERCENT = 19.5
"""Below this air is oxygen-deficient (29 CFR 1910.146)."""


def oxygen_after_percent(argon_l: float, room_m3: float) -> float:
    """Oxygen left in a closed, well-mixed room after argon was let out into it, in per cent.

    Examples
    --------
    >>> round(oxygen_after_percent(2140, 30), 2)
    19.51
    """
    return OXYGEN_OF_AIR_PERCENT * math.exp(-argon_l / 1000 / room_m3)


def smallest_room_m3(argon_l: float) -> float:
    """Smallest room in which argon, all let out, leaves air with enough oxygen, in m³.

    Examples
    --------
    >>> round(smallest_room_m3(1434), 1)
    20.0
    """
    return argon_l / 1000 / math.log(OXYGEN_OF_AIR_PERCENT / OXYGEN_LEAST_PERCENT)


def pressure_of_contents_bar(
    capacity_l: float, contents: float, temperature_c: float = STANDARD_TEMPERATURE_C
) -> float:
    """Absolute pressure of a cylinder that holds so many litres at standard state, in bar.

    Raises
    ------
    InputError
        If more is asked for than the table's highest pressure holds.
    """
    high = _grid()[1][-1]
    if contents > contents_l(capacity_l, high, temperature_c):
        message = f"{contents:g} L of argon is more than {capacity_l:g} L hold at {high:g} bar"
        raise InputError(message)
    return reach_rising(
        lambda pressure_bar: contents_l(capacity_l, pressure_bar, temperature_c), contents, high
    )
