"""Lengths, masses and temperatures as people write them, turned into mm, g and °C once.

Inside the program every length is in mm, mass in g, temperature in °C. Wire gauges are always named
with their system: a bare "18" could be 1.02 mm or 1.22 mm, so it is refused.
"""

from __future__ import annotations

import math
import re

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, Refusal, quote

MM_PER_INCH = 25.4
"""Exact (international yard and pound agreement, 1959)."""
G_PER_TROY_OUNCE = 31.1034768
"""Exact: 480 grains of 64.79891 mg."""

# BS 3737:1964 (withdrawn), inches; as printed in gauge tables. [S], checked in tests.
SWG_INCHES = {
    8: 0.160, 9: 0.144, 10: 0.128, 11: 0.116, 12: 0.104, 13: 0.092, 14: 0.080, 15: 0.072,
    16: 0.064, 17: 0.056, 18: 0.048, 19: 0.040, 20: 0.036, 21: 0.032, 22: 0.028, 23: 0.024,
    24: 0.022, 25: 0.020, 26: 0.018, 27: 0.0164, 28: 0.0148, 29: 0.0136, 30: 0.0124,
}  # fmt: skip

SAME_GAUGE = 0.005
"""A wire within half a per cent of a gauge is called by it too."""

_MM_PER_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "″": MM_PER_INCH,
}
"""By definition."""
_G_PER_UNIT = {"g": 1.0, "kg": 1000.0, "ozt": G_PER_TROY_OUNCE, "troy ounce": G_PER_TROY_OUNCE}
"""By definition."""

_SPACE = "[ \u00a0\u202f]"  # an ordinary space, or one that holds a number together
_DIGITS = rf"(?:[0-9]{{1,3}}(?:{_SPACE}[0-9]{{3}})+|[0-9]+)"
"""Digits in a row, or in groups of three with one space between: 12 or 12 000, never 1 2."""
_NUMBER = rf"[+-]?(?:{_DIGITS}(?:[.,][0-9.,]*)?|[.,][0-9]+)"
_NUMBER_WITH_UNIT = re.compile(rf"\s*({_NUMBER})\s*([^\s0-9.,+/-].*?)?\s*")
_PLAIN_NUMBER = re.compile(rf"\s*({_NUMBER}(?:[eE][+-]?[0-9]{{1,3}})?)\s*")
_FRACTION = re.compile(
    r"\s*(?:([0-9]{1,4})(?:\s+|\s*-\s*|(?=[½¼¾⅛⅜⅝⅞])))?"
    r"(?:([0-9]{1,3})\s*[/⁄]\s*([0-9]{1,3})|([½¼¾⅛⅜⅝⅞]))\s*([^\s0-9.,+/-].*?)?\s*"
)
_WIRE = "a wire diameter"
_SIGNS = ('"', "″")  # of inches; told by their words
_NUMBER_LIKE = "write a number such as 3.5"
_VULGAR = {
    "½": (1, 2), "¼": (1, 4), "¾": (3, 4), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8), "⅞": (7, 8),
}  # fmt: skip


def awg_mm(gauge: int) -> float:
    """Diameter of an American Wire Gauge number, in mm.

    Notes
    -----
    ``d = 0.127 · 92^((36 − n)/39)``, ASTM B258 (from memory; agrees with published tables).

    Examples
    --------
    >>> round(awg_mm(18), 4)
    1.0237
    """
    return float(0.127 * 92 ** ((36 - gauge) / 39))


def swg_mm(gauge: int) -> float:
    """Diameter of a British Standard Wire Gauge number, in mm.

    Raises
    ------
    InputError
        If the gauge is not one of 8 to 30.

    Examples
    --------
    >>> round(swg_mm(18), 4)
    1.2192
    """
    if gauge not in SWG_INCHES:
        raise InputError(Refusal("is not in the table", "SWG 8 to 30 are known", f"{gauge} SWG"))
    return SWG_INCHES[gauge] * MM_PER_INCH


def show_wire(wire_mm: float) -> str:
    """Write a wire diameter, with its gauge where it is within half a per cent of one.

    Examples
    --------
    >>> show_wire(1.2192), show_wire(1.024), show_wire(1.2)
    ('1.22 mm (18 SWG)', '1.02 mm (18 AWG)', '1.2 mm')
    """
    gauges = [(abs(awg_mm(n) / wire_mm - 1), f"{n} AWG") for n in range(4, 37)]
    gauges += [(abs(swg_mm(n) / wire_mm - 1), f"{n} SWG") for n in SWG_INCHES]
    miss, name = min(gauges)
    return f"{wire_mm:.3g} mm ({name})" if miss <= SAME_GAUGE else f"{wire_mm:g} mm"


def read_number(text: str) -> float:
    """Read a number with a point or, where that can mean only one thing, a comma as decimal sign.

    Raises
    ------
    InputError
        If it is no number, is not finite, or the comma could be a thousands sign ("1,000").

    Examples
    --------
    >>> read_number("3,5"), read_number(" 450 "), read_number("1.25"), read_number("1 000")
    (3.5, 450.0, 1.25, 1000.0)
    """
    match = _PLAIN_NUMBER.fullmatch(text) if len(text) <= BOUNDS.word_letters else None
    if match is None:
        raise _no_number(text)
    cleaned = re.sub(_SPACE, "", match[1])
    if "," in cleaned:
        whole, _, rest = cleaned.partition(",")
        thousands = "." in cleaned or "," in rest or (len(rest) == 3 and whole.strip("+-") != "0")
        if thousands:
            allowed = "write it with a decimal point"
            raise InputError(Refusal("can be read in two ways", allowed, quote(text)))
        cleaned = f"{whole}.{rest}"
    try:
        value = float(cleaned)
    except ValueError:
        raise _no_number(text) from None
    if not math.isfinite(value):
        raise InputError(Refusal("is not a finite number", _NUMBER_LIKE, quote(text)))
    return value


def _no_number(text: str) -> InputError:
    return InputError(Refusal("is not a number", _NUMBER_LIKE, quote(text)))


def _read_quantity(text: str, units: dict[str, float], default: str | None, what: str) -> float:
    match = _NUMBER_WITH_UNIT.fullmatch(text) if len(text) <= BOUNDS.word_letters else None
    if match is None:
        raise InputError(Refusal(f"is not {what}", _ways(units, what), quote(text)))
    number, unit = match.groups()
    return read_number(number) * _factor(text, unit, units, default, what)


def _ways(units: dict[str, float], what: str) -> str:
    """Say in which ways a quantity may be written."""
    if what == _WIRE:
        return f"write {what} such as 1.2mm, 0.04in, 16AWG or 18SWG"
    return f"write {what} in {', '.join(name for name in units if name not in _SIGNS)}"


def _factor(
    text: str, unit: str | None, units: dict[str, float], default: str | None, what: str
) -> float:
    """Return what one unit is worth inside the program."""
    unit = (unit or default or "").lower()
    if unit not in units:
        trouble = f"has the unit {quote(unit)}" if unit else "has no unit"
        raise InputError(Refusal(trouble, _ways(units, what), quote(text)))
    return units[unit]


def _read_fraction(text: str, default: str | None, what: str) -> float | None:
    """Read a length written as a fraction, as inches are: "5/16 in", '7 1/2"', "3½ in"."""
    match = _FRACTION.fullmatch(text) if len(text) <= BOUNDS.word_letters else None
    if match is None:
        return None
    whole, over, under, sign, unit = match.groups()
    top, bottom = _VULGAR[sign] if sign else (int(over), int(under))
    if bottom == 0 or (whole and top >= bottom):
        raise InputError(Refusal(f"is not {what}", "write it like 7 1/2 in", quote(text)))
    if unit is None and default != "in":
        raise InputError(Refusal("is a fraction without a unit", f"write {text.strip()} in for "
                                 "inches, or a decimal number", quote(text)))  # fmt: skip
    return (int(whole or 0) + top / bottom) * _factor(text, unit, _MM_PER_UNIT, default, what)


def read_length_mm(text: str, *, default_unit: str | None = None) -> float:
    """Read a length such as "450mm", "45 cm" or "17.7in", in mm.

    Parameters
    ----------
    text : str
        What the user wrote.
    default_unit : str, optional
        Unit of a bare number, where the column's heading names one.

    Raises
    ------
    InputError
        Saying what was found and what is allowed, if it cannot be read.

    Examples
    --------
    >>> read_length_mm("45 cm"), read_length_mm("450", default_unit="mm")
    (450.0, 450.0)
    >>> read_length_mm("5/16 in"), read_length_mm("7 1/2 in")
    (7.9375, 190.5)
    """
    return _read_any_length(text, default_unit, "a length")


def _read_any_length(text: str, default_unit: str | None, what: str) -> float:
    fraction = _read_fraction(text, default_unit, what)
    if fraction is not None:
        return fraction
    return _read_quantity(text, _MM_PER_UNIT, default_unit, what)


def read_wire_mm(text: str, *, default_unit: str | None = None) -> float:
    """Read a wire diameter: a length, or a gauge with its system ("18AWG", "18 SWG"), in mm.

    Raises
    ------
    InputError
        As :func:`read_length_mm`.

    Examples
    --------
    >>> read_wire_mm("1.0mm"), round(read_wire_mm("18AWG"), 4), round(read_wire_mm("18 swg"), 4)
    (1.0, 1.0237, 1.2192)
    """
    gauge = re.fullmatch(
        r"\s*(?:([0-9]{1,2})\s*(awg|swg)|(awg|swg)\s*([0-9]{1,2}))\s*", text.lower()
    )
    if gauge:
        number = int(gauge.group(1) or gauge.group(4))
        system = gauge.group(2) or gauge.group(3)
        if system == "swg":
            return swg_mm(number)
        if not 4 <= number <= 36:
            trouble, allowed = "is outside what is used for rings", "AWG 4 to 36 are known"
            raise InputError(Refusal(trouble, allowed, f"{number} AWG"))
        return awg_mm(number)
    if re.fullmatch(r"\s*[0-9]{1,2}\s*(ga|gauge|g)\s*", text.lower()):
        allowed = "write AWG or SWG, or the diameter in mm"
        raise InputError(Refusal("names no gauge system", allowed, quote(text)))
    return _read_any_length(text, default_unit, _WIRE)


def read_mass_g(text: str, *, default_unit: str | None = None) -> float:
    """Read a mass such as "250 g" or "1 kg", in g.

    Raises
    ------
    InputError
        Saying what was found and what is allowed, if it cannot be read.
    """
    return _read_quantity(text, _G_PER_UNIT, default_unit, "a mass")


def show_length(length_mm: float) -> str:
    """Write a length as a jeweller reads it: mm below 10 cm, cm above.

    Examples
    --------
    >>> show_length(3.5), show_length(450.4)
    ('3.5 mm', '45.0 cm')
    """
    return f"{length_mm:.3g} mm" if abs(length_mm) < 100 else f"{length_mm / 10:.1f} cm"


SECONDS_TOLD_S = 300
"""Longer times are told without seconds: nobody's pace is known to a second in five minutes."""


def show_chance(share: float) -> str:
    """Write a chance as people say it: no trial tells more than a hundredth.

    Examples
    --------
    >>> show_chance(0.996), show_chance(0.7312), show_chance(0.0)
    ('better than 99 %', '73 %', 'below 1 %')
    """
    if share > 0.99:
        return "better than 99 %"
    return "below 1 %" if share < 0.01 else f"{share:.0%}".replace("%", " %")


def show_duration(seconds: float) -> str:
    """Write a duration as people use it: without seconds above five minutes.

    Examples
    --------
    >>> [show_duration(seconds) for seconds in (8.2, 130, 300, 2521, 4000)]
    ['8 s', '2 min 10 s', '5 min', '42 min', '1 h 7 min']
    """
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < SECONDS_TOLD_S:
        return f"{whole // 60} min {whole % 60} s" if whole % 60 else f"{whole // 60} min"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    return f"{minutes // 60} h {minutes % 60} min" if minutes % 60 else f"{minutes // 60} h"


def show_wait(seconds: float) -> str:
    """Write how long to wait: as a duration, but never less than that.

    Examples
    --------
    >>> show_wait(12.4), show_wait(310)
    ('13 s', '6 min')
    """
    whole = math.ceil(seconds - 1e-6)
    return show_duration(whole if whole < SECONDS_TOLD_S else 60 * math.ceil(whole / 60))


def tell_letters(number: int) -> str:
    """Tell a number from 0 in letters: A to Z, then AA and so on.

    Examples
    --------
    >>> [tell_letters(k) for k in (0, 25, 26, 701, 702)]
    ['A', 'Z', 'AA', 'ZZ', 'AAA']
    """
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
