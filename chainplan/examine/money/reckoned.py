"""Every piece reckoned anew from the counts and settings of a plan, kept with its files."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from chainplan.examine.money.costing import (
    Known,
    Values,
    reckon,
)

if TYPE_CHECKING:
    from chainplan.examine.money.costing import Costing
    from chainplan.examine.reading import PlanFiles

SMALL = 2e-4
"""Of a figure: what sizes and times written to six digits leave open."""
LAST_DIGIT = 1.05
"""Of a cost reckoned anew: a last digit of the currency, of some of its lines."""


def known_of(files: PlanFiles) -> Known:
    """Read from the plan what its sums share."""
    rates = [line["rate"] for line in files.estimates("costs") if line["item"] == "argon"]
    argon = float(rates[0]) if rates else None
    values = Values(files)
    counts = {row["piece"]: row for row in files.estimates("counts")}
    precious = set()
    for piece, row in counts.items():
        metals = list(dict.fromkeys(group["metal"] for group in row["groups"]))
        lines = files.of_piece("costs", piece)
        titles = [line["item"][7:] for line in lines if line["item"].startswith("metal: ")]
        back = {line["item"][12:] for line in lines if line["item"].startswith("scrap back: ")}
        priced = [metal for metal in metals if values.per_g(metal) is not None]
        precious |= {metal for metal, title in zip(priced, titles, strict=False) if title in back}
    hallmarked = {line["piece"] for line in files.estimates("costs") if line["item"] == "hallmark"}
    lines_ = sum(group["rings"] > 0 for row in counts.values() for group in row["groups"])
    return Known(
        lines_, float(files.plan["estimates"]["weld_share"]), argon,
        sum(row["quantity"] for row in counts.values()), frozenset(precious),
        frozenset(hallmarked),
    )  # fmt: skip


def costings(files: PlanFiles) -> dict[str, Costing]:
    """Reckon every piece anew, by its name; kept with the files."""
    kept: dict[str, Costing] | None = files._values.get("costings")
    if kept is None:
        values, known = Values(files), known_of(files)
        kept = files._values["costings"] = {
            counts["piece"]: reckon(
                values, counts, known, from_stock=taken_from_shelf(files, counts)
            )
            for counts in files.estimates("counts")
        }
    return kept


def taken_from_shelf(files: PlanFiles, counts: dict[str, Any]) -> tuple[int, ...]:
    """Finished rings that each group of a piece takes from the shelf; empty if it does not say."""
    needs = files.of_piece("wire", counts["piece"])
    taken = tuple(int(need["rings_from_stock"]) for need in needs)
    return taken if len(taken) == len(counts["groups"]) else ()
