"""What the command line says in words: short texts from finished results."""

from __future__ import annotations

import math
import textwrap
from typing import TYPE_CHECKING

from chainplan.report.text.names import spoken_metal
from chainplan.units import show_duration, show_length

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from chainplan.model.check import OrderCheck
    from chainplan.model.estimate import Comparison
    from chainplan.model.order import Violation
    from chainplan.model.piece.count import Count, MadeFrom, WeaveDescription
    from chainplan.model.piece.design import DesignPreview
    from chainplan.model.piece.weave import Weave
    from chainplan.model.plan import PiecePlan, Plan
    from chainplan.model.workshop.schedule import Schedule

WIDTH = 76
"""Letters a line, so that the first column and the text fit on a terminal of 96."""
MOST_PIECES, MOST_NEWS, MOST_FAULTS = 12, 6, 12
"""Lines of each kind before the rest is counted: the answer is read in ten seconds and stays on a
screen of 24 lines."""


def columns(rows: Sequence[Sequence[str]], *, gap: str = "  ") -> str:
    """Set rows of text in columns, the last one ragged.

    Examples
    --------
    >>> print(columns([("rings", "25"), ("mass", "3.2 g")]))
    rings  25
    mass   3.2 g
    """
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]) - 1)]
    return "\n".join(
        gap.join([*(cell.ljust(w) for cell, w in zip(row, widths, strict=False)), row[-1]]).rstrip()
        for row in rows
    )


def plural(number: int, word: str) -> str:
    """Write a number with its noun.

    Examples
    --------
    >>> plural(1, "join"), plural(1840, "join"), plural(2, "pass")
    ('1 join', '1 840 joins', '2 passes')
    """
    ending = "" if number == 1 else "es" if word.endswith("s") else "s"
    return f"{number:,}".replace(",", " ") + f" {word}{ending}"


def count_text(count: Count) -> str:
    """Answer of ``chainplan count``."""
    if count.weave == "loose-joins":
        number, noun = (count.rings, "ring") if count.rings else (count.joins, "join")
        size = f"{plural(number, noun)}, no weave"
    else:
        wide = f", {plural(count.rows, 'row')} wide" if count.rows > 1 else ""
        size = f"{show_length(count.length_mm)} of {count.weave}{wide}"
    rows = [
        (
            "",
            f"{size}, {spoken_metal(count.metal, {})}, {count.wire_mm:.3g} mm wire, "
            f"{count.inner_mm:.3g} mm inside",
        ),
        ("rings", f"{count.rings} ({plural(count.joins, 'join')}, {plural(count.links, 'link')})"),
        ("metal", f"{count.mass_g:.1f} g in the rings ({count.ring_mass_g:.3f} g each)"),
        (
            "wire",
            f"{count.wire_length_m:.2f} m in the rings, "
            f"{count.wire_with_kerf_m:.2f} m with the saw's cut",
        ),
    ]
    if count.rings and count.wanted_rings not in {None, count.rings}:
        each = count.rings // count.repeats
        rows[2:2] = [
            (
                "",
                f"{plural(count.wanted_rings, 'ring')} asked for; rounded to "
                f"{plural(count.repeats, 'whole repeat')} of {plural(each, 'ring')}",
            )
        ]
    if count.made_from is not None:
        rows[1:1] = [("from", _made_from_text(count.made_from))]
    if not count.rings:
        rows[1:] = [("joins", f"{count.joins}, of something else than rings: no wire, no metal")]
    elif count.weave != "loose-joins":
        rows[1:1] = [
            (
                "length",
                f"{show_length(count.length_mm)} in {plural(count.repeats, 'repeat')} "
                f"(one less: {show_length(count.shorter_mm)}, "
                f"one more: {show_length(count.longer_mm)})",
            )
        ]
        rows += [
            ("per cm", _per_cm(count)),
            ("size", f"{count.width_mm:.1f} mm wide, {count.thickness_mm:.1f} mm thick"),
            (
                "ring",
                f"aspect ratio {count.aspect_ratio:.2f}; the weave's smallest is "
                f"{count.smallest_aspect_ratio:.2f}: {count.verdict}",
            ),
        ]
        rows[-1:-1] = _lying_rows(count)
        rows += [("", reason) for reason in count.reasons]
        rows += [
            (
                f"{change.inner_diameter_change:+.0%} inside",
                f"{change.rings_per_cm:.2f} rings per cm, {plural(change.rings, 'ring')} "
                f"for {show_length(change.length_mm)}",
            )
            for change in count.tolerance
        ]
    return columns([row for row in rows if row[1]])


def _lying_rows(count: Count) -> list[tuple[str, str]]:
    """Say how a strip or sheet lies, and what it counts and measures lying otherwise."""
    if not count.lies:
        return []
    how = f"{count.lies} its rows" if count.lies != "laid flat" else count.lies
    rows = [("lies", f"{how}: {plural(count.rings, 'ring')} for this length")]
    rows += [
        (
            "",
            f"{other.lies}: {plural(other.rings, 'ring')}, {show_length(other.length_mm)} long "
            f"({other.rings + other.rings // other.repeats}: {show_length(other.longer_mm)}), "
            f"{other.width_mm:.1f} mm wide",
        )
        for other in count.lying_otherwise
    ]
    if not count.lying_otherwise:
        rows.append(("", "ask for the other ways with --lies; each takes this weave a minute"))
    return rows


def _made_from_text(made: MadeFrom) -> str:
    """Say what the longest stretch takes of what there is."""
    text = (
        f"{made.limit}: takes {made.wire_length_m:.2f} m, {made.mass_used_g:.1f} g of wire with "
        f"{plural(made.spare_rings, 'spare ring')}, the saw's cut and coil ends"
    )
    if made.price_with_tax is not None:
        text += f"; price {made.currency} {made.price_with_tax} with tax, without waits or clasp"
    return text


def _per_cm(count: Count) -> str:
    text = f"{count.rings_per_cm:.2f} rings"
    if abs(count.rings_per_cm - count.computed_rings_per_cm) > 1e-9:
        share = count.rings_per_cm / count.computed_rings_per_cm - 1
        text += (
            f", as you measured (computed {count.computed_rings_per_cm:.2f}; yours is {share:+.1%})"
        )
    return text


def weaves_text(weaves: Sequence[Weave]) -> str:
    """Answer of ``chainplan weaves``: one line a weave."""
    rows = [("weave", "form", "family", "also called")]
    rows += [(w.key, w.form, w.family, ", ".join(w.trade_names)) for w in weaves]
    return columns(rows)


def weave_text(described: WeaveDescription) -> str:
    """Answer of ``chainplan weaves NAME``."""
    weave = described.weave
    rows = [
        (weave.key, f"{weave.title} ({weave.form}, {weave.family})"),
        ("also called", ", ".join(weave.trade_names)),
        ("smallest", f"aspect ratio {described.smallest_aspect_ratio:.2f}"),
        ("repeat", f"{plural(len(weave.ring_class), 'ring')}, {plural(len(weave.links), 'link')}"),
        ("notes", weave.notes),
        ("source", weave.source),
    ]
    wrapped = [
        (head if number == 0 else "", line)
        for head, said in rows
        for number, line in enumerate(textwrap.wrap(said, WIDTH))
    ]
    text = columns(wrapped)
    return text if described.count is None else f"{text}\n\n{count_text(described.count)}"


def plan_text(plan: Plan, folder: Path) -> str:
    """Summary of a plan that is read in ten seconds."""
    joins = sum(len(p.order.ring) * p.piece.quantity for p in plan.pieces)
    head = f"{plan.job.name}: {plural(len(plan.pieces), 'piece')}, {plural(joins, 'join')} to weld"
    rows = [_piece_row(piece) for piece in plan.pieces[:MOST_PIECES]]
    parts = [head, _indent(columns(rows))]
    if len(plan.pieces) > MOST_PIECES:
        parts.append(f"  and {len(plan.pieces) - MOST_PIECES} more in the workbook")
    parts.append(_news(plan))
    parts.append(f"written to {folder}: weld-order.pdf, bench-sheet.html, plan.xlsx and more")
    parts.append("Estimates: try on scrap. The maker's manual and local rules come first.")
    return "\n".join(part for part in parts if part)


def designs_text(previews: Sequence[DesignPreview]) -> str:
    """Tell the rings of each metal and size of pieces with a design."""
    if not previews:
        return "All pieces are of one metal and one size of ring."
    lines = []
    for item in previews:
        lines.append(f"{_short(item.piece)}: {plural(item.rings, 'ring')}")
        rows = [
            (
                str(bag.rings),
                bag.metal,
                f"{bag.wire_mm:.3g} mm wire",
                f"{bag.inner_mm:.3g} mm inside",
            )
            for bag in item.bags
        ]
        lines.append(_indent(columns(rows)))
        lines += [f"  {text}" for text in item.notes]
    return "\n".join(lines)


def _piece_row(plan: PiecePlan) -> tuple[str, ...]:
    sections = plan.layout.sections
    woven = [s.weave for s in sections if s.form != "connecting"]
    weaves = " + ".join(dict.fromkeys(woven))
    things = [f.name for f in plan.piece.fittings if f.place]
    with_them = f", with {', '.join(dict.fromkeys(things))}" if things else ""
    metals = " + ".join(dict.fromkeys(m.metal for m in plan.layout.materials))
    times = f"{plan.piece.quantity} × " if plan.piece.quantity > 1 else ""
    loose = all(s.form == "loose" for s in sections)
    length = "" if loose else f"{_finished_length(plan)}, "
    rings = sum(count.rings for count in plan.counts)
    number, noun = (rings, "ring") if rings else (sum(s.joins for s in sections), "join")
    passes = plural(len(plan.order.passes), "pass")
    return (
        f"{times}{_short(plan.piece.name)}",
        f"{weaves}, {metals}{with_them}",
        f"{length}{plural(number, noun)}, {_mass_g(plan):.1f} g",
        f"{passes}, {show_duration(plan.order.bench_time_s)} each",
    )


def _finished_length(plan: PiecePlan) -> str:
    """Say how long a piece is with its clasp, and what was asked for, where a length was."""
    piece = plan.piece
    length = show_length(plan.layout.length_mm + piece.clasp_length_mm)
    if piece.closed:
        length += f", {show_length(plan.inside_round_mm)} round its inside"
    own = [section.length_mm for section in piece.sections if section.fitting is None]
    asked = [length_mm for length_mm in own if length_mm is not None]
    if len(asked) < len(own):
        return length
    return f"{length} ({show_length(sum(asked))} asked)"


def _mass_g(plan: PiecePlan) -> float:
    """Mass of a piece, its fittings in as far as theirs is known."""
    return sum(c.mass_g for c in plan.counts) + sum(f.mass_g or 0.0 for f in plan.piece.fittings)


def _short(name: str, most: int = 32) -> str:
    printable = "".join(sign if sign.isprintable() else " " for sign in name)
    return printable if len(printable) <= most else printable[: most - 1] + "…"


def _news(plan: Plan) -> str:
    """Say what else a jeweller wants to know: settings, what to buy, cost, dates, limits."""
    estimates = plan.estimates
    rows = []
    tries = dict.fromkeys(
        f"{line.setting.power_j:g} J × {line.setting.hits} ({line.metal} {line.wire_mm:.3g} mm)"
        for line in estimates.settings
    )
    if tries:
        rows.append(("try first", _some(list(tries))))
    buy = [
        f"{line.to_buy:g} {line.unit} {line.item}"
        for line in estimates.buy
        if line.to_buy > 0 and line.metal
    ]
    if buy:
        rows.append(("to buy", _some(buy)))
    if estimates.quotes:
        money = estimates.currency
        total = sum(q.cost for q in estimates.quotes)
        price = sum(q.price_each * q.quantity for q in estimates.quotes)
        taxed = sum(q.price_with_tax_each * q.quantity for q in estimates.quotes)
        tax = plan.job.bench.money.tax_percent.normalize()
        said = f"before tax, {money} {taxed} with {tax:f} % tax" if tax else "(no tax added)"
        rows.append(("cost", f"{money} {total}, price {money} {price} {said}"))
        missing = [
            f"{q.piece} without {', '.join(q.missing)}" for q in estimates.quotes if q.missing
        ]
        if missing:
            rows.append(("NO PRICE", _some(missing)))
    hours = [_figure(plan, key) for key in ("hours", "hours-new")]
    if hours[0] is not None and hours[1] is not None:
        (low, usual, high), (least, _, most) = hours[0], hours[1]
        rows.append(
            ("hours", f"{usual:.1f} h at the bench by a practised hand ({low:.1f} to {high:.1f}), "
             f"{least:.1f} to {most:.1f} h by somebody new to it")
        )  # fmt: skip
    late = [
        f"{line.piece} by {plural(line.late_days, 'day')}"
        for line in estimates.due
        if line.late_days > 0
    ]
    if late:
        rows.append(("late", _some(late)))
    if plan.schedule.tasks:
        kept = "all due dates are kept; " if not late and any(d.due for d in estimates.due) else ""
        rows.append(("dates", kept + schedule_text(plan.schedule)))
    broken: dict[tuple[str, str, float], float] = {}  # a part has several places
    for p in plan.pieces:
        for limit in p.order.limits:
            if not limit.holds:
                key = (p.piece.name, limit.name, limit.limit_c)
                broken[key] = max(broken.get(key, limit.high_c), limit.high_c)
    if broken:
        hot = [
            f"{piece}: {name} {high_c:.0f} °C over {limit_c:.0f} °C"
            for (piece, name, limit_c), high_c in broken.items()
        ]
        rows.append(("TOO HOT", _some(hot)))
    gained = [text for p in plan.pieces for text in p.order.gained[:1]]
    if len(plan.pieces) == 1 and gained:
        rows.append(("order", gained[0]))
    return _indent(columns(rows)) if rows else ""


def schedule_text(schedule: Schedule) -> str:
    """Say when a schedule ends, and what is proved of any other.

    A bound is told to the minute before it, so that it stays one.
    """
    last = max((task for task in schedule.tasks if task.person), key=lambda task: task.end_s)
    if last.end is None or schedule.bound.end is None:
        ends, bound = f"{last.end_s / 3600:.1f} h", f"{schedule.bound.end_s / 3600:.1f} h"
    else:
        ends, bound = (f"{at:%a %Y-%m-%d %H:%M}" for at in (last.end, schedule.bound.end))
    least = "no schedule ends sooner" if ends == bound else f"no schedule ends before {bound}"
    return f"work ends {ends}; {least}"


def _figure(plan: Plan, key: str) -> tuple[float, float, float] | None:
    """Sum a figure over all pieces: low, usual, high; ``None`` if it is not there."""
    found = [
        figure
        for name, figures in plan.estimates.figures.items()
        for figure in figures
        if name and figure.key == key
    ]
    if not found:
        return None
    return (
        sum(f.low for f in found), sum(f.usual for f in found), sum(f.high for f in found)
    )  # fmt: skip


def _some(texts: Sequence[str], most: int = MOST_NEWS) -> str:
    more = f" and {len(texts) - most} more" if len(texts) > most else ""
    return "; ".join(texts[:most]) + more


def _indent(text: str) -> str:
    return "\n".join(f"  {line}" for line in text.splitlines())


def order_check_text(result: OrderCheck) -> str:
    """Answer of ``chainplan order --check``."""
    lines = [
        f"{result.piece}: {plural(result.joins, 'join')}, "
        f"{show_duration(result.bench_time_s)} at the bench "
        f"(the plan's own order: {show_duration(result.planned_s)})"
    ]
    if result.ok:
        lines.append("every limit holds, at the bad end of the uncertain numbers too")
    found = result.violations
    if found:
        first = min((v.time_s for v in found if math.isfinite(v.time_s)), default=None)
        when = "" if first is None else f", the first at {show_duration(first)}"
        lines.append(f"{plural(len(found), 'fault')}{when}")
    lines += [f"  {_violation_text(item)}" for item in found[:MOST_FAULTS]]
    if len(found) > MOST_FAULTS:
        lines.append(f"  and {len(found) - MOST_FAULTS} more; --json lists all")
    return "\n".join(lines)


def _violation_text(item: Violation) -> str:
    where = f"ring {item.ring + 1}"
    if item.step >= 0:
        where = f"step {item.step + 1}, {where}"
    if math.isfinite(item.time_s):
        where += f", at {show_duration(item.time_s)}"
    if math.isnan(item.temperature_c):
        return f"{where}: {item.what}"
    return f"{where}: {item.what}, {item.temperature_c:.0f} °C, limit {item.limit_c:.0f} °C"


def compare_text(comparison: Comparison) -> str:
    """Answer of ``chainplan compare``: one line an alternative, the best marked with a star."""
    shown = (
        ("wire_mm", "wire", "{:.3g} mm"),
        ("inner_mm", "inner", "{:.3g} mm"),
        ("metal", "metal", "{}"),
        ("rings", "rings", "{}"),
        ("length_mm", "length", "{:.0f} mm"),
        ("mass_g", "mass", "{:.1f} g"),
        ("weld_min", "weld", "{:.0f} min"),
        ("cost", "cost", "{}"),
        ("price", "price", "{}"),
        ("working_days", "days", "{:.1f}"),
    )
    rows = [(*(title for _, title, _ in shown), "")]
    for line in comparison.lines:
        cells = []
        for key, _, form in shown:
            value = getattr(line, key)
            known = value is not None and (line.possible or key in ("wire_mm", "inner_mm", "metal"))
            star = "*" if key in line.best_at else ""
            cells.append(form.format(value) + star if known else "–")
        said = (line.verdict if line.possible else "", line.reason)
        rows.append((*cells, "; ".join(text for text in said if text)))
    targets = f", wanted: {'; '.join(comparison.targets)}" if comparison.targets else ""
    head = f"{comparison.piece}, one copy, money in {comparison.currency}{targets}; * is the best"
    foot = (
        "Welding is counted without waits here: plan the one you choose for its real time and cost."
    )
    tax = comparison.notes[-1] if comparison.notes else ""
    return "\n".join(text for text in (head, columns(rows), foot, tax) if text)
