"""How wire looks: strokes from its dark edge to its bright line, by metal."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.paper.sheet import Drawing, Path
from chainplan.report.wire.arcs import Runs

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.report.wire.arcs import Rings, View, WireLayer


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke of a wire's look: width, shift to the light and dashes as shares of the wire."""

    width: float
    shift: float
    colour: str
    dash: tuple[float, ...] = ()


Look = tuple[Stroke, ...]
"""Strokes of wire, from the wide dark one to the narrow bright one."""

PLAIN = (Stroke(1.0, 0.0, "#5a5f66"), Stroke(0.74, 0.0, "#eceef0"))
"""Light wire with a dark edge: for drawings where the marks matter."""

LIGHT_FROM = (-0.55, 0.83)
"""Where the light comes from, right and up (unit vector): the upper left."""


def metal_look(dark: str, light: str) -> tuple[Stroke, ...]:
    """Return strokes from dark edge to bright line that make wire look round."""
    a, b = _rgb(dark), _rgb(light)
    # Width, shift and mix of dark to light were matched by eye to a polished round rod lit from
    # the upper left, on a screen and in print; nothing is computed from them.
    shares = ((1.0, 0.0, 0.0), (0.88, 0.02, 0.28), (0.7, 0.06, 0.52), (0.5, 0.1, 0.74))
    strokes = [
        Stroke(width, shift, _hex(tuple(p + (q - p) * mix for p, q in zip(a, b, strict=True))))
        for width, shift, mix in shares
    ]
    white = tuple(q + (255 - q) * 0.75 for q in b)
    return (*strokes, Stroke(0.3, 0.13, light), Stroke(0.12, 0.16, _hex(white)))


def overlap_share(level: int, levels: int) -> float:
    """Share of the overlap that a stroke takes: the lighter (later), the more."""
    return 0.25 + 0.75 * level / max(1, levels - 1)


def _rgb(colour: str) -> tuple[float, ...]:
    return tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5))


def _hex(parts: Sequence[float]) -> str:
    return "#" + "".join(f"{round(part):02x}" for part in parts)


def look_of_colour(colour: str, pattern: int = 0) -> Look:
    """Strokes of wire whose middle has a colour: its shade for the edge, its tint for the light.

    ``pattern``: how the wire is marked besides, so that metals whose colours are alike in grey
    differ in print: 0 not at all, then by bands across, a line along, and both in other measures.
    """
    parts = _rgb(colour)
    dark = _hex([part * 0.32 for part in parts])
    light = _hex([part + (255 - part) * 0.35 for part in parts])
    marks = _PATTERNS[pattern % len(_PATTERNS)]
    return metal_look(dark, light) + tuple(Stroke(width, 0.0, dark, dash) for width, dash in marks)


_PATTERNS: tuple[tuple[tuple[float, tuple[float, ...]], ...], ...] = (
    (),
    ((0.96, (0.28, 1.3)),),
    ((0.2, ()),),
    ((0.96, (0.28, 0.5)),),
    ((0.34, (1.1, 0.7)),),
    ((0.96, (0.28, 1.8)), (0.26, ())),
)
"""Width and dashes of the marks of each pattern, as shares of the wire: told apart by eye on paper
in grey, at wires from 0.5 mm on; further metals begin again."""


METAL_LOOKS = {
    "silver": metal_look("#3b4048", "#e3e7eb"),
    "gold": metal_look("#5c4310", "#f4d98a"),
    "copper": metal_look("#552a18", "#eeb08c"),
    "brass": metal_look("#57480f", "#eddb8b"),
    "dark": metal_look("#23282e", "#b9c0c8"),
}


def look_of_metal(metal: str) -> tuple[Stroke, ...]:
    """Choose the look of a metal by its key; grey if nothing better is known."""
    words = {
        "gold": ("gold", "ct"),
        "copper": ("copper",),
        "brass": ("brass", "bronze", "gilding"),
        "dark": ("titanium", "niobium", "steel", "stainless"),
    }
    for look, names in words.items():
        if any(name in metal.split("-") for name in names):
            return METAL_LOOKS[look]
    return METAL_LOOKS["silver"]


def wire_drawing(
    key: str,
    layers: Sequence[WireLayer],
    look: Sequence[Stroke] = PLAIN,
    *,
    looks: Sequence[Look] = (),
) -> Drawing:
    """Stroke layers of wire, from far to near, as a drawing whose unit is the mm of the piece.

    Parameters
    ----------
    key : str
        Name of the drawing, unique within a document.
    layers : sequence of WireLayer
        As :func:`chainplan.report.wire.arcs.wire_layers` gives them.
    look : sequence of Stroke
        Strokes of each layer, from the wide dark one to the narrow bright one.
    looks : sequence of Look, optional
        Instead: a look for each number that the layers name.
    """
    drawn: list[list[Path]] = [[] for _ in layers]
    for number, own in enumerate(looks or (look,)):
        mine = [k for k, layer in enumerate(layers) if not looks or layer.look == number]
        if mine:
            _stroke([layers[k] for k in mine], own, [drawn[k] for k in mine])
    return Drawing(key=key, paths=tuple(path for paths in drawn for path in paths))


def _stroke(
    layers: Sequence[WireLayer], look: Sequence[Stroke], drawn: Sequence[list[Path]]
) -> None:
    """Add the strokes of layers of one look to each layer's paths."""
    runs = Runs.of(layers)
    sizes = [len(layer.first) for layer in layers]
    wire_mm = np.repeat([layer.wire_mm for layer in layers], sizes)[:, None]
    ends = np.cumsum(sizes).tolist()
    light = np.array(LIGHT_FROM)
    for level, stroke in enumerate(look):
        points = runs.reaching(overlap_share(level, len(look)))
        points += light * stroke.shift * wire_mm
        for layer, paths, size, end in zip(layers, drawn, sizes, ends, strict=True):
            paths.append(
                Path(
                    points_mm=points[end - size : end],
                    first=layer.first,
                    stroke=stroke.colour,
                    width_mm=stroke.width * layer.wire_mm,
                    dash_mm=tuple(part * layer.wire_mm for part in stroke.dash),
                    round_ends=layer.steep and level > 0 and not stroke.dash,
                )
            )


def name_drawing(rings: Rings, looks: Sequence[Look], view: View, finest_mm: float) -> str:
    """Name a drawing of rings by all that it is drawn from: what is named alike looks alike."""
    whole = hashlib.sha256(repr((looks, view.name, round(finest_mm, 6))).encode())
    look = np.zeros(0) if rings.look is None else rings.look
    for part in (rings.centre_mm, rings.normal, rings.mean_radius_mm, rings.wire_mm, look):
        whole.update(np.round(part, 6).tobytes())
    return f"rings-{whole.hexdigest()[:20]}"
