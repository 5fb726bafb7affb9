"""What a quote says of a piece, in words that need no workshop to understand."""

from __future__ import annotations

import datetime
import re
from typing import TYPE_CHECKING

from chainplan.model.kinds import Form
from chainplan.model.piece.fittings import FittingKind
from chainplan.reference import find_metal
from chainplan.reference.hallmarks import hallmark_rule, struck_fineness
from chainplan.report.text.names import spoken_metal, spoken_missing, spoken_weave
from chainplan.units import show_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from chainplan.model.estimate import Quote
    from chainplan.model.plan import PiecePlan, Plan

UNWOVEN = (Form.LOOSE, Form.CONNECTING)
_SAY_FORM = {Form.CHAIN: "chain", Form.STRIP: "band", Form.SHEET: "mesh"}
CARE = {
    "silver": "Silver darkens in air: keep it in its box and rub it with a silver cloth.",
    "gold": "Wash it in lukewarm water with a drop of soap and dry it with a soft cloth.",
    "copper": "It darkens on skin: a little lemon and salt brings the colour back; rinse and dry.",
    "other": "Wipe it with a soft, dry cloth; keep it from perfume, chlorine and sea water.",
}
"""Care by metal, where the job says none: common practice, no source."""
_ALLOY_NUMBER = re.compile(r"(?: [A-Z][A-Za-z]*\d+)? C\d{3,5}$")
"""Such as "C110", or "CuZn30 C260"; the fineness of silver and gold stays."""
STONE_CARE = "Keep the stone from heat, ultrasound and cleaning fluids; a damp cloth is enough."


def metal_for_customers(metal: str, plan: Plan) -> str:
    """Say a metal without the number of its alloy, which says nothing to who wears it."""
    return _plain_alloy(spoken_metal(metal, plan.job.metals))


def _plain_alloy(title: str) -> str:
    """Leave out the number of an alloy in the title of a metal."""
    words = _ALLOY_NUMBER.sub("", title)
    return words[:1].lower() + words[1:]


def what_it_is(plan: Plan, piece: PiecePlan) -> list[str]:
    """Say what the piece is: its weaves with their metals, then what belongs to it."""
    texts = []
    for section, count in zip(piece.layout.sections, piece.counts, strict=True):
        if section.form in UNWOVEN:
            continue
        keys = [item.metal for item in count.metals] or [section.metal]
        metals = " and ".join(dict.fromkeys(metal_for_customers(k, plan) for k in keys))
        form = _SAY_FORM.get(section.form, "chain")
        weave = spoken_weave(section.weave)
        named = weave if form in weave.casefold() else f"{weave} {form}"
        texts.append(f"{named}, handmade of {metals}, every ring welded shut")
    if not texts:
        loose = dict.fromkeys(section.metal for section in piece.layout.sections)
        texts.append("of " + " and ".join(metal_for_customers(k, plan) for k in loose))
    things = [f.name for f in piece.piece.fittings if f.kind != FittingKind.EXTRA]
    if piece.piece.clasp_length_mm:  # beside it there is no clasp among the fittings
        things.insert(0, "a clasp")
    extras = [f.name for f in piece.piece.fittings if f.kind == FittingKind.EXTRA]
    found = list(dict.fromkeys(texts))
    if things:
        found.append(f"with {_listed(things)}")
    if extras:
        found.append(f"and {_listed(extras)}")
    return found


def _listed(names: list[str]) -> str:
    """Join names as people do."""
    unique = list(dict.fromkeys(names))
    return unique[0] if len(unique) == 1 else f"{', '.join(unique[:-1])} and {unique[-1]}"


def size_of(piece: PiecePlan) -> str:
    """Say how long and how wide it is, with all that belongs to it."""
    layout = piece.layout
    woven = [section for section in layout.sections if section.form not in UNWOVEN]
    if not woven:
        number = sum(count.rings for count in piece.counts)
        return f"{number} rings" if number != 1 else "1 ring"
    length = show_length(layout.length_mm + piece.piece.clasp_length_mm)
    wide = max(section.width_mm for section in woven)
    lies = ", ".join(dict.fromkeys(section.lies for section in woven if section.lies))
    size = f"{wide:.1f} mm wide" + (f", {lies}" if lies else "")
    if piece.piece.closed:
        return (
            f"{length} long, closed; {show_length(piece.inside_round_mm)} round its inside; {size}"
        )
    return f"{length} long, {size}"


def weight_of(piece: PiecePlan) -> str:
    """Say what it weighs; what nobody weighed is named."""
    known = sum(count.mass_g for count in piece.counts)
    unknown = []
    for fitting in piece.piece.fittings:
        if fitting.kind == FittingKind.EXTRA:
            continue
        if fitting.mass_g is None:
            unknown.append(fitting.name)
        else:
            known += fitting.mass_g
    if piece.piece.clasp_length_mm:
        unknown.append("the clasp")
    text = f"about {known:.3g} g" if known >= 0.05 else "below 0.1 g"
    return f"{text} without {_listed(unknown)}" if unknown else text


def hallmark_of(plan: Plan, piece: PiecePlan) -> str:
    """Say whether it is hallmarked; nothing where no precious metal is in it."""
    figures = plan.estimates.figures.get(piece.piece.name, ())
    told = next((figure for figure in figures if figure.key == "hallmark"), None)
    if told is None:
        return ""
    if told.usual > 0:
        return f"hallmarked by an assay office, {' and '.join(_marks(plan, piece))}"
    if "no hallmark needed" in told.basis:
        return "none: it is lighter than the weight from which the law asks for one"
    return "to be agreed"


def _marks(plan: Plan, piece: PiecePlan) -> Iterator[str]:
    """Say what is struck: of each precious metal the fineness of its poorest alloy here."""
    least: dict[str, int] = {}
    for material in piece.layout.materials:
        metal = find_metal(material.metal, plan.job.metals)
        if metal.precious:
            found = metal.fineness or 0
            least[metal.precious] = min(found, least.get(metal.precious, found))
    for precious, fineness in least.items():
        rule = hallmark_rule(plan.job.bench.money.country, precious)
        struck = fineness if rule is None else struck_fineness(rule, fineness)
        yield f"{precious} {struck or fineness}"


def price_of(plan: Plan, quote: Quote) -> tuple[str, list[str]]:
    """Say the price of one, and what is to be known of it."""
    money, tax = plan.estimates.currency, plan.job.bench.money.tax_percent.normalize()
    price = f"{money} {quote.price_with_tax_each}"
    notes = [f"with {tax:f} % tax, which is {money} {quote.tax_each}"] if tax else ["no tax on it"]
    if quote.quantity > 1:
        whole = quote.price_with_tax_each * quote.quantity
        notes.append(f"{quote.quantity} of them: {money} {whole}")
    if quote.missing:
        names = [
            _plain_alloy(name) if name != own else name
            for own, name in zip(
                quote.missing, spoken_missing(quote.missing, plan.job.metals), strict=True
            )
        ]
        notes.append(f"NOT YET IN THIS PRICE: {_listed(names)}")
    return price, notes


def valid_until(plan: Plan) -> str:
    """Say how long the quote holds: by the job's own start, never by the clock."""
    days = plan.job.bench.quote.valid_days
    if plan.job.start_date is None:
        return f"for {days} days from the day on which you get it"
    return f"until {_day(plan.job.start_date + datetime.timedelta(days=days))}"


def ready_by(plan: Plan, piece: PiecePlan) -> str:
    """Say when it is ready."""
    found = next((x for x in plan.estimates.due if x.piece == piece.piece.name), None)
    if found is None or found.done is None:
        return "to be agreed"
    return _day(found.done)


def _day(day: datetime.date) -> str:
    return f"{day.day} {day:%B} {day.year}"


def care_of(plan: Plan, piece: PiecePlan) -> str:
    """Say how to keep it: the job's own words, else as its metals and stones want it."""
    own = plan.job.bench.quote.care
    if own:
        return own
    words = " ".join(m.metal for m in piece.layout.materials)
    kinds = [kind for kind in ("silver", "gold", "copper") if kind in words] or ["other"]
    texts = [CARE[kind] for kind in kinds]
    if any(f.limit_c is not None and f.limit_c < 150 for f in piece.piece.fittings):
        texts.append(STONE_CARE)
    return " ".join(texts)


def customer_of(plan: Plan, piece: PiecePlan) -> str:
    """Name the customer: the piece's own, else the job's."""
    return piece.piece.customer or plan.job.bench.quote.customer
