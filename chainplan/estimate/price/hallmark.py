"""Whether the law asks for a hallmark on a piece."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.job import LOOSE_JOINS
from chainplan.reference.hallmarks import hallmark_countries, hallmark_rule, struck_fineness

if TYPE_CHECKING:
    from chainplan.estimate.take import Take
    from chainplan.reference.hallmarks import HallmarkRule


LOOSE_TEXT = "loose joins: whether a hallmark is needed goes by the articles that they belong to"


@frozen
class HallmarkFinding:
    """What the country's rule says of one copy of a piece."""

    needed: bool
    text: str  # empty: no precious metal in it
    source: str = ""


def _how_known(rule: HallmarkRule) -> str:
    """Say how sure it is that base metal counts."""
    if not rule.base_counts:
        return "no rule is known here, the more cautious is taken"
    remembered = "from memory" in rule.base_counts
    return "a rule from memory, ask the assay office" if remembered else "as the source says"


def check_hallmark(take: Take, country: str) -> HallmarkFinding:
    """Compare each precious metal's weight in one copy with the country's limit.

    A piece at or above the limit needs the hallmark; below it, none. The rule is asked for each
    precious metal apart; a piece of several of them has rules of its own, which are not known here:
    ask the assay office. Where base metal is in the piece too, all its metal counts towards the
    limit, not the precious part alone, where a source says so (``hallmark_mixed.csv``); taken where
    none does as the more cautious.
    Loose joins belong to articles of which nothing else is known here, so they are only named.
    """
    weights: dict[str, float] = {}
    fineness: dict[str, int] = {}
    loose, base_g = False, 0.0
    for group, need in zip(take.counts.groups, take.wire, strict=True):
        metal = take.metals[need.metal]
        if metal.precious and group.weave == LOOSE_JOINS:
            loose = True
        elif metal.precious:
            each_g = need.mass_in_piece_g / take.counts.quantity
            weights[metal.precious] = weights.get(metal.precious, 0.0) + each_g
            found = metal.fineness or 0
            fineness[metal.precious] = min(found, fineness.get(metal.precious, found))
        elif group.weave != LOOSE_JOINS:
            base_g += need.mass_in_piece_g / take.counts.quantity
    needed, sources = False, list[str]()
    texts = [LOOSE_TEXT] if loose else []
    for precious, weight_g in weights.items():
        rule = hallmark_rule(country, precious)
        if rule is None:
            known = ", ".join(hallmark_countries())
            texts.append(f"hallmark: the rule of {country!r} is not known here (known: {known})")
            continue
        sources.append(rule.source)
        counted_g, what, how = weight_g, precious, ""
        if base_g and weight_g < rule.exempt_below_g:
            counted_g = sum(weights.values()) + base_g
            known = _how_known(rule)
            what, how = "metal", f" (base metal counts with the {precious}: {known})"
            sources.append(rule.base_counts)
        if counted_g < rule.exempt_below_g:
            texts.append(
                f"no hallmark needed: {counted_g:.2f} g of {what} a piece{how}, below "
                f"{rule.exempt_below_g:g} g ({rule.country})"
            )
            continue
        struck = struck_fineness(rule, fineness[precious])
        if struck is None:
            texts.append(
                f"{precious} {fineness[precious]} reaches no fineness of {rule.country}: it may "
                f"not be sold as {precious} there"
            )
            continue
        needed = True
        texts.append(
            f"hallmark needed: {counted_g:.2f} g of {what} a piece{how}, at least "
            f"{rule.exempt_below_g:g} g ({rule.country}), struck {struck}"
        )
    if len(weights) > 1:
        texts.append("several precious metals in one piece: ask the assay office")
    if weights and base_g:
        texts.append("precious and base metal in one piece: ask the assay office how it is marked")
    source = "; ".join(dict.fromkeys(filter(None, sources)))
    return HallmarkFinding(needed=needed, text="; ".join(texts), source=source)
