"""What the command line answers to a maker's questions: fit, shelf, what if."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.report.text.names import spoken_metal
from chainplan.report.text.terminal.answers import columns, plural
from chainplan.units import show_length

if TYPE_CHECKING:
    from chainplan.model.estimate import PriceList, WhatIf
    from chainplan.model.piece.fit import Fit, Shelf


def fit_text(fit: Fit) -> str:
    """Answer of ``chainplan fit``: one line a ring, those from the shelf first."""
    wide = f", {plural(fit.rows, 'row')} wide" if fit.rows > 1 else ""
    metal = f"{spoken_metal(fit.metal, {})}, {fit.temper}"
    head = (
        f"{fit.title}{wide}, {metal}, {fit.wire_mm:.3g} mm wire; smallest aspect "
        f"ratio {fit.smallest_aspect_ratio:.2f}: {fit.least_inner_mm:.3g} mm inside"
    )
    parts = [f"{feel.word} from {feel.from_inner_mm:.2f} mm" for feel in fit.feels]
    head += f"\ninside: {', '.join(parts)}"
    if not fit.rings:
        feel = f" that is {fit.feel}" if fit.feel else ""
        return f"{head}\nno ring{feel} was found"
    rows = [("mandrel", "inner", "ratio", "feel", "rings per cm", "g per cm", "width", "")]
    rows += [
        (
            "–" if ring.mandrel_mm is None else f"{ring.mandrel_mm:g} mm",
            f"{ring.inner_mm:.2f} mm",
            f"{ring.aspect_ratio:.2f}",
            ring.verdict,
            f"{ring.rings_per_cm:.2f}",
            f"{ring.mass_g_per_cm:.2f}",
            f"{ring.width_mm:.1f} mm",
            _where(ring.mandrel_mm) if ring.in_stock else "",
        )
        for ring in fit.rings
    ]
    foot = (
        "Inner diameters are those of the finished ring, springback of this temper included; the "
        "words for the feel are common practice, no source."
    )
    return f"{head}\n{columns(rows)}\n{foot}"


def _where(mandrel_mm: float | None) -> str:
    return "rings in stock" if mandrel_mm is None else "mandrel in stock"


def shelf_text(shelf: Shelf) -> str:
    """Answer of ``chainplan substitute``: one line a ring, the best first."""
    rows = [("weave", "wire", "mandrel", "inner", "feel", "rings", "length", "wire needed", "")]
    for ring in shelf.rings:
        made = ring.rings > 0
        needed = f"{ring.needed_m:.2f} of {ring.at_hand_m:g} m" if made else "–"
        said = ring.reason
        if made and ring.rings_at_hand:
            said = "; ".join(t for t in (said, f"{ring.rings_at_hand} finished at hand") if t)
        rows.append(
            (
                ring.weave,
                f"{ring.wire_mm:.3g} mm",
                "–" if ring.mandrel_mm is None else f"{ring.mandrel_mm:g} mm",
                f"{ring.inner_mm:.2f} mm",
                ring.verdict or "–",
                str(ring.rings) if made else "–",
                show_length(ring.length_mm) if made else "–",
                needed,
                said or "enough for one",
            )
        )
    head = f"{shelf.piece}, one copy; the job asks for {shelf.wanted}"
    return f"{head}\n{columns(rows)}"


def what_if_text(answer: WhatIf) -> str:
    """Answer of ``chainplan what-if``: one line a piece, before and after."""
    taxed = any(
        line.with_tax_before != line.price_before or line.with_tax_after != line.price_after
        for line in answer.lines
    )
    head = ("piece", "cost", "", "", "price before tax" if taxed else "price", "", "")
    rows = [(*head, *(("with tax", "", "") if taxed else ()), "")]
    rows += [
        (
            f"{line.quantity} × {line.piece}" if line.quantity > 1 else line.piece,
            *_moved(line.cost_before, line.cost_after),
            *_moved(line.price_before, line.price_after),
            *(_moved(line.with_tax_before, line.with_tax_after) if taxed else ()),
            "; ".join(line.notes),
        )
        for line in answer.lines
    ]
    if len(answer.lines) > 1 or any(line.quantity > 1 for line in answer.lines):
        rows.append(
            (
                "all copies",
                *_moved(answer.total_cost_before, answer.total_cost_after),
                *_moved(answer.total_price_before, answer.total_price_after),
                *(
                    _moved(answer.total_with_tax_before, answer.total_with_tax_after)
                    if taxed
                    else ()
                ),
                "",
            )
        )
    changes = "\n".join(f"  {text}" for text in answer.changes)
    money = f"{changes}\nmoney in {answer.currency}, one copy; {answer.tax}"
    return f"{money}\n{columns(rows)}\n{answer.basis}"


def price_list_text(answer: PriceList) -> str:
    """Answer of ``chainplan price-list``: one line a piece and length."""
    rows = [("piece", "asked", "length", "weight", "price", "")]
    for line in answer.lines:
        asked = show_length(line.asked_mm)
        if line.price is None:
            rows.append((line.piece, asked, "–", "–", "–", line.reason))
            continue
        without = f"WITHOUT {', '.join(line.missing)}" if line.missing else ""
        rows.append(
            (line.piece, asked, show_length(line.length_mm), f"{line.mass_g:.1f} g",
             f"{answer.currency} {line.price}", without)
        )  # fmt: skip
    foot = "One copy each; welding is counted without waits, as no weld order is searched for."
    return f"{columns(rows)}\n{answer.tax}\n{foot}"


def _moved(before: object, after: object) -> tuple[str, str, str]:
    old, new = float(str(before)), float(str(after))
    share = f"{new / old - 1:+.1%}" if old else ""
    return str(before), f"to {after}", share
