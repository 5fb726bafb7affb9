"""Rules of a design that a piece can have: every kind of rule on the weaves that it fits."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from chainplan.model.kinds import DesignRule, Form
from drawn_jobs.rings import Ring, metals, weave_called

PICTURE = "sun-and-sea.png"
OF_A_CHAIN = (DesignRule.PLACES, DesignRule.LIST, DesignRule.COLUMNS, DesignRule.PARTS,
              DesignRule.GRID)  # fmt: skip


@st.composite
def design_rows(draw: st.DrawFn, name: str, ring: Ring, metal: str) -> list[dict[str, Any]]:
    """Rows of one design, each over those before."""
    weave = weave_called(ring.weave)
    kinds = OF_A_CHAIN if weave.form == Form.CHAIN else tuple(DesignRule)
    chosen = draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=2))
    return [{"design": name} | draw(_rule(kind, ring, metal)) for kind in chosen]


@st.composite
def _rule(draw: st.DrawFn, kind: DesignRule, ring: Ring, own: str) -> dict[str, Any]:
    weave = weave_called(ring.weave)
    other, third = draw(metals), draw(metals)
    if kind == DesignRule.PARTS and not any(weave.parts):
        kind = DesignRule.PLACES
    row: dict[str, Any] = {"rule": str(kind), "metals": other}
    spans = ["1", "2", "last", "every 2nd", "every 3rd from 2", "1-2", "rest"]
    lettered = f"A {other}, B {third}, C {own}"
    match kind:
        case DesignRule.PLACES:
            most = len(weave.ring_class)
            row["which"] = draw(st.sampled_from([str(most), "1", "last", "every 2nd"]))
        case DesignRule.ROWS:
            row["which"] = draw(st.sampled_from(["1", "2", "last", "every 2nd", "1-2"]))
        case DesignRule.COLUMNS:
            row["which"] = draw(st.sampled_from(spans))
        case DesignRule.PARTS:
            row["which"] = draw(st.sampled_from(sorted({p for p in weave.parts if p})))
        case DesignRule.LIST:
            row |= {"which": draw(st.text("ABC.", min_size=1, max_size=9)), "metals": lettered}
        case DesignRule.BORDER:
            row["which"] = str(draw(st.integers(1, 3)))
        case DesignRule.CHECK:
            size = st.integers(1, 3)
            row |= {"which": f"{draw(size)} x {draw(size)}", "metals": f"{own}, {other}"}
        case DesignRule.GRID:
            lines = draw(st.lists(st.text("ABC.", min_size=2, max_size=5), min_size=1,
                                  max_size=min(ring.rows or 1, 4)))  # fmt: skip
            row |= {"which": "/".join(lines), "metals": lettered}
            row["laid"] = draw(st.sampled_from([None, "again and again", "once in the middle"]))
        case DesignRule.PICTURE:
            row |= {"which": PICTURE, "metals": f"{other}, {third}, {own}"}
            row["laid"] = draw(st.sampled_from([None, "again and again"]))
            row["picture width"] = draw(st.sampled_from([None, 12.0]))
    return {column: value for column, value in row.items() if value is not None}
