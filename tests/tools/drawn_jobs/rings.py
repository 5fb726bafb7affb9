"""Rings that go into a weave, and how many of them a piece may have."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from chainplan.model.kinds import Form
from chainplan.reference import find_metal, metal_keys
from chainplan.weave import find_smallest_aspect_ratio, load_weave

if TYPE_CHECKING:
    from chainplan.model.weave import Weave

SAMPLES = Path(__file__).parents[3] / "samples"
OWN_WEAVE = "my-weave.toml"
LIBRARY = Path(load_weave.__code__.co_filename).parent / "library"
WEAVES = (*sorted(path.stem for path in LIBRARY.glob("*.toml")), OWN_WEAVE)
CHAINS_ONCE_MORE = ("byzantine", "single-link", "european-4-in-1")
"""Weaves that most pieces are made of are drawn twice as often."""
METALS = tuple(key for key in metal_keys() if find_metal(key).weldability != "never")
USUAL_METALS = ("sterling-silver", "copper", "stainless-304", "brass", "gold-14ct-yellow")
WIRES_MM = (0.5, 0.6, 0.8, 0.9, 1.0, 1.2, 1.3, 1.6)
ODD_WIRES_MM = (0.15, 0.3, 2.0, 2.6, 4.0, 0.8118, 0.123)
EASE = (1.003, 1.02, 1.05, 1.1, 1.1, 1.2, 1.3, 1.3, 1.6, 2.2)
"""Inner diameters as multiples of the smallest that goes together: locked, tight … too loose."""


@dataclass(frozen=True, kw_only=True)
class Scale:
    """How large the pieces of a job are, and how many of them it has."""

    least_rings: int
    most_rings: int
    most_pieces: int
    longest_mm: float = 600.0


SMALL = Scale(least_rings=3, most_rings=45, most_pieces=3)
LARGE = Scale(least_rings=400, most_rings=2500, most_pieces=1)


@dataclass(frozen=True, kw_only=True)
class Ring:
    """Weave, wire and inner diameter of one section, and the rows of a sheet."""

    weave: str
    wire_mm: float
    inner_mm: float
    rows: int | None

    @property
    def loaded(self) -> Weave:
        """The weave's data."""
        return weave_called(self.weave)

    @property
    def rings_per_mm(self) -> float:
        """Roughly; only to keep pieces small."""
        each = self.rows or len(self.loaded.ring_class) / 2 + 0.5
        return each / self.inner_mm


@cache
def weave_called(name: str) -> Weave:
    """Load a weave of the library, or the sample of one's own."""
    return load_weave(str(SAMPLES / name) if name == OWN_WEAVE else name)


@cache
def smallest_ratio(name: str) -> float:
    """Smallest ratio of inner diameter to wire at which a weave goes together."""
    return find_smallest_aspect_ratio(weave_called(name))


metals = st.one_of(st.sampled_from(USUAL_METALS), st.sampled_from(METALS))
weaves = st.sampled_from((*WEAVES, *CHAINS_ONCE_MORE, *CHAINS_ONCE_MORE))
wires_mm = st.one_of(*[st.sampled_from(WIRES_MM)] * 5, st.sampled_from(ODD_WIRES_MM))


@st.composite
def rings(
    draw: st.DrawFn, weave: str | None = None, wire_mm: float | None = None, *, least: float = 1.0
) -> Ring:
    """A ring that goes into its weave, with rows where the weave has them.

    ``least``: at least so many times as large inside as the smallest that goes together.
    """
    weave = weave or draw(weaves)
    wire_mm = wire_mm or draw(wires_mm)
    ease = draw(st.sampled_from([ease for ease in EASE if ease >= least]))
    inner_mm = round(smallest_ratio(weave) * ease * wire_mm + 0.0005, 3)
    sheet = weave_called(weave).form != Form.CHAIN
    return Ring(
        weave=weave, wire_mm=wire_mm, inner_mm=inner_mm,
        rows=draw(st.integers(2, 7)) if sheet else None,
    )  # fmt: skip


@st.composite
def temper_of(draw: st.DrawFn, metal: str) -> str | None:
    """A temper that the metal's data have; mostly none, which is annealed."""
    known = tuple(find_metal(metal).yield_mpa)
    return draw(st.sampled_from(known)) if known and draw(st.integers(0, 4)) == 0 else None
