"""Nothing is lost on the way through fittings: rings, wire, length and money add up."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from chainplan.estimate import estimate_counts
from chainplan.estimate.counts import count_fittings
from chainplan.model.bench import Bench
from chainplan.model.bench.groups import StationSettings
from chainplan.model.estimate import PieceCounts
from chainplan.model.job import Job, Piece, Price, Section
from chainplan.model.piece.fittings import CONNECTING, Fitting, FittingKind
from chainplan.public.counting import count_layout
from chainplan.weave import lay_piece

WIRE_MM = 1.0
money = st.none() | st.decimals(Decimal("0.05"), Decimal("80"), places=2)


@st.composite
def whole_pieces(draw: st.DrawFn) -> tuple[Piece, float]:
    """A piece of two single-link stretches with fittings in line, and its length by hand."""
    inner_mm = draw(st.sampled_from([3.5, 4.0, 5.0]))
    rings = [draw(st.integers(5, 12)) for _ in range(2)]
    own = [
        Section(weave="single-link", metal="copper", wire_mm=WIRE_MM, inner_mm=inner_mm, rings=n)
        for n in rings
    ]
    by_hand = sum(rings) * inner_mm
    fittings: list[Fitting] = []
    sections: dict[str, list[Section]] = {}
    for place in ("start", "between 1 and 2", "end"):
        if not draw(st.booleans()):
            if place == "between 1 and 2":
                by_hand += inner_mm  # a connecting ring of the chain's own
            else:
                by_hand += WIRE_MM
            continue
        count = draw(st.integers(0, 2))
        sides = 2 if place.startswith("between") else 1
        length_mm = draw(st.floats(2, 30))
        fitting = Fitting(
            piece="p", name=place, kind=draw(st.sampled_from(list(FittingKind)[:-1])), place=place,
            length_mm=length_mm, rings=count, price=draw(money),
        )  # fmt: skip
        if count:
            sections[place] = [
                Section(
                    weave=CONNECTING, metal="copper", wire_mm=WIRE_MM, inner_mm=inner_mm,
                    rings=count * sides, fitting=len(fittings),
                )
            ]  # fmt: skip
        fittings.append(fitting)
        by_hand += length_mm + count * sides * inner_mm
    laid = (
        *sections.get("start", []), own[0], *sections.get("between 1 and 2", []), own[1],
        *sections.get("end", []),
    )  # fmt: skip
    copies = draw(st.integers(1, 9))
    return Piece(name="p", quantity=copies, sections=laid, fittings=tuple(fittings)), by_hand


@settings(max_examples=15)
@given(whole_pieces())
def test_rings_wire_and_length_add_up(case):
    """Every ring belongs to one section; wire is π(ID + d) each; the length is that by hand."""
    piece, by_hand = case
    layout = lay_piece(piece)
    counts = [count_layout(s, layout, n) for n, s in enumerate(piece.sections)]
    assert layout.rings == sum(count.rings for count in counts) == len(layout.section)
    own = sum(section.rings for section in piece.sections)
    between = any(f.place.startswith("between") for f in piece.fittings)
    assert layout.rings == own + (not between)
    wire_m = sum(count.wire_length_m for count in counts)
    each = math.pi * (piece.sections[0].inner_mm + WIRE_MM) / 1000
    assert math.isclose(wire_m, layout.rings * each, rel_tol=1e-9)
    assert abs(layout.length_mm - by_hand) < 0.02
    # the piece hangs together, by links and through fittings
    reached = {0}
    edges = [tuple(pair) for pair in layout.links.tolist()]
    edges += [(f.rings[0], ring) for f in layout.fittings for ring in f.rings[1:]]
    for _ in range(layout.rings):
        for a, b in edges:
            if (a in reached) != (b in reached):
                reached |= {a, b}
    assert reached == set(range(layout.rings))
    first = np.array([section.first_ring for section in layout.sections])
    assert (np.diff(first) >= 0).all()


@given(whole_pieces(), st.decimals(Decimal("0.05"), Decimal("9"), places=2))
def test_money_is_what_it_was_and_the_fittings(case, clasp):
    """Cost with fittings less cost without is what they cost, cent by cent."""
    piece, _ = case
    job = Job(
        name="any", pieces=(piece,), bench=Bench(stations=StationSettings(fitting_min=0.0)),
        prices=(Price(item="clasp", price=clasp, per="each"),),
    )  # fmt: skip
    bare = PieceCounts(piece="p", quantity=piece.quantity, groups=(), weld_s=60.0)
    fittings = count_fittings(piece)
    full = PieceCounts(
        piece="p", quantity=piece.quantity, groups=(), weld_s=60.0, fittings=fittings
    )
    one, other = (estimate_counts(job, [counts]).quotes[0] for counts in (bare, full))
    prices = [
        fitting.price if fitting.price is not None else clasp if fitting.kind == "clasp" else None
        for fitting in fittings
    ]
    paid = sum((price for price in prices if price is not None), Decimal(0)) * piece.quantity
    assert other.cost - one.cost == paid
    unpriced = {f.name for f, price in zip(fittings, prices, strict=True) if price is None}
    assert set(other.missing) - set(one.missing) == unpriced
