"""Asks about finished lengths that are odd for what a piece is called, or for its clasp."""

from __future__ import annotations

import re

USUAL_MM = (
    (("necklace", "choker", "sautoir", "lariat"), 280.0, 2000.0),
    (("bracelet", "cuff", "wristband", "anklet", "bangle"), 110.0, 400.0),
    (("earring", "dangle", "charm", "ear drop"), 3.0, 200.0),
)
"""Words in a name, and the lengths that such pieces have (common practice, no source). [mm]"""
LEAST_WITH_CLASP_MM = 100.0
"""What closes with a clasp goes round a small child's wrist at least (common practice). [mm]"""
_FACTORS = ((10.0, "cm"), (25.4, "in"))
"""Units that are taken for mm by mistake, with how much too small the number then is."""


def odd_length(name: str, length_mm: float, clasp_mm: float) -> str:
    """Ask about a finished length that is odd for a piece; "" where it is not.

    Examples
    --------
    >>> odd_length("Evening bracelet", 19.0, 12.0)
    'a bracelet of 19 mm is odd: is 19 cm meant? Write the unit: 19 cm'
    >>> odd_length("Chain", 19.0, 12.0)
    'a length of 19 mm is odd with a clasp of 12 mm: is 19 cm or 19 in meant? Write the unit: 19 cm'
    >>> odd_length("Bracelet", 190.0, 12.0), odd_length("Chain", 50.0, 0.0)
    ('', '')
    """
    kind = _kind(name)
    if kind is not None:
        word, low_mm, high_mm = kind
        if low_mm <= length_mm <= high_mm:
            return ""
        said = f"a {word} of {length_mm:g} mm is odd"
    elif clasp_mm > 0 and length_mm < LEAST_WITH_CLASP_MM:
        low_mm, high_mm = LEAST_WITH_CLASP_MM, USUAL_MM[0][2]
        said = f"a length of {length_mm:g} mm is odd with a clasp of {clasp_mm:g} mm"
    else:
        return ""
    meant = [unit for factor, unit in _FACTORS if low_mm <= length_mm * factor <= high_mm]
    if not meant:
        return f"{said}: is it right? Usual are {low_mm:g} to {high_mm:g} mm"
    units = " or ".join(f"{length_mm:g} {unit}" for unit in meant)
    return f"{said}: is {units} meant? Write the unit: {length_mm:g} {meant[0]}"


def _kind(name: str) -> tuple[str, float, float] | None:
    """Find the kind of piece that the last telling word of a name says."""
    found = [
        (match.start(), word, low_mm, high_mm)
        for words, low_mm, high_mm in USUAL_MM
        for word in words
        for match in re.finditer(rf"\b{word}s?\b", name.casefold())
    ]
    return max(found)[1:] if found else None
