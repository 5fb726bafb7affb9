"""What metals look like: a display colour each, and colours compared as eyes do."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from chainplan.reference.checked.tables import read_table

if TYPE_CHECKING:
    import numpy.typing as npt

    from chainplan.arrays import FloatArray, IndexArray

UNKNOWN_COLOUR = "#c8ccd0"
"""A light grey: of a metal that no word of its name tells more about."""
_BY_WORD = {
    "gold": "gold-14ct-yellow", "silver": "sterling-silver", "copper": "copper", "brass": "brass",
    "bronze": "phosphor-bronze", "gilding": "gilding-metal", "titanium": "titanium",
    "niobium": "niobium", "steel": "stainless-304", "stainless": "stainless-304",
    "aluminium": "aluminium",
}  # fmt: skip

# D65 white and the matrix of sRGB: IEC 61966-2-1:1999, amendment 1.
_TO_XYZ = (
    (0.4124564, 0.3575761, 0.1804375),
    (0.2126729, 0.7151522, 0.0721750),
    (0.0193339, 0.1191920, 0.9503041),
)
_WHITE = (0.95047, 1.0, 1.08883)
"""D65, 2° observer, Y = 1 (IEC 61966-2-1)."""


@cache
def _colours() -> dict[str, str]:
    return {row["metal"]: row["colour"] for row in read_table("metal_colours")}


def colour_of_metal(metal: str) -> str:
    """Display colour of a metal by its key, as #rrggbb; of another metal, by words of its key.

    Examples
    --------
    >>> colour_of_metal("copper"), colour_of_metal("studio-copper")
    ('#c9744b', '#c9744b')
    """
    found = _colours().get(metal)
    if found is None:
        word = next((word for word in metal.split("-") if word in _BY_WORD), None)
        found = _colours()[_BY_WORD[word]] if word else UNKNOWN_COLOUR
    return found


def tint_of_metal(metal: str) -> str:
    """Half of a metal's display colour and half white, for letters and marks to stand out on.

    Examples
    --------
    >>> tint_of_metal("copper")
    '#e4baa5'
    """
    colour = colour_of_metal(metal)
    parts = [round((int(colour[at : at + 2], 16) + 255) / 2) for at in (1, 3, 5)]
    return "#" + "".join(f"{part:02x}" for part in parts)


def lab_of_srgb(rgb: npt.ArrayLike) -> FloatArray:
    """CIELAB of sRGB colours of 0 to 255, shape (…, 3): L*, a*, b* under D65.

    Equal distances in it look about equally far apart (CIE 15:2004). Ranges: L* 0 to 100.

    Examples
    --------
    >>> (lab_of_srgb([255, 255, 255]).round(2) + 0.0).tolist()
    [100.0, 0.0, 0.0]
    """
    import numpy as np

    share = np.asarray(rgb, dtype=np.float64) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    ratio = linear @ np.array(_TO_XYZ).T / np.array(_WHITE)
    edge = 6 / 29
    root = np.where(ratio > edge**3, np.cbrt(ratio), ratio / (3 * edge**2) + 4 / 29)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    lab: FloatArray = np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)
    return lab


def lab_of_metal(metal: str) -> FloatArray:
    """CIELAB of a metal's display colour, shape (3,)."""
    colour = colour_of_metal(metal)
    return lab_of_srgb([int(colour[at : at + 2], 16) for at in (1, 3, 5)])


def nearest_colour(rgb: npt.ArrayLike, palette_lab: FloatArray) -> IndexArray:
    """Index of the colour of a palette that is nearest in CIELAB to each of some colours.

    Parameters
    ----------
    rgb : array_like, shape (n, 3)
        sRGB, 0 to 255.
    palette_lab : array, shape (k, 3)
        CIELAB of the colours to choose among.

    Returns
    -------
    array of int, shape (n,)
    """
    import numpy as np

    lab = lab_of_srgb(rgb)
    found = np.empty(len(lab), dtype=np.intp)
    for begin in range(0, len(lab), 200_000):
        some = slice(begin, begin + 200_000)
        away = ((lab[some, None, :] - palette_lab[None]) ** 2).sum(axis=2)
        found[some] = away.argmin(axis=1)
    return found
