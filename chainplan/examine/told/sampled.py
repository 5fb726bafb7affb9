"""The joins to check: drawn from those of their lot, and the same on the bench sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.examine.findings import as_number
from chainplan.examine.reading import PLAN, SHEET
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

_VERDICTS = ("accept", "reject", "go on checking")


def _kind(lot: str) -> tuple[str, float]:
    """Metal and wire of a lot by its name, such as "copper 1.2 mm, wire lot B7"."""
    metal, _, wire = lot.partition(", wire lot ")[0].removesuffix(" mm").rpartition(" ")
    return metal, round(as_number(wire), 3)


@check("joins to check are joins of their lot")
def check_samples(files: PlanFiles, teller: Teller) -> None:
    """Each lot has its joins, each drawn join is one of them, and the sheet names the same."""
    number = {piece.name: k for k, piece in enumerate(files.pieces)}
    lots: dict[tuple[str, float], dict[str, set[int]]] = {}
    for piece in files.pieces:
        ring, (kinds, kind_of_ring) = piece.rings["ring"], piece.materials
        in_place = piece.rings["closed_beforehand"] != "yes"
        for number_of_kind, (_, metal, wire_mm) in enumerate(kinds):
            own = ring[in_place & (kind_of_ring == number_of_kind)].tolist()
            if own:
                of = lots.setdefault((metal, wire_mm), {})
                of.setdefault(piece.name, set()).update(own)
    copies = {piece.name: int(piece.record["quantity"]) for piece in files.pieces}
    joins_of: dict[tuple[str, float], int] = {}
    for sample in files.plan["samples"]:
        place = f"samples, {sample['lot']}"
        kind = _kind(sample["lot"])
        joins_of[kind] = joins_of.get(kind, 0) + sample["joins"]
        drawn = [tuple(item) for item in sample["drawn"]]
        teller.same(PLAN, f"{place}, size", sample["size"], len(drawn))
        teller.same(PLAN, f"{place}, drawn", len(set(drawn)), len(drawn))
        teller.same(PLAN, f"{place}, reject", sample["reject"], sample["accept"] + 1)
        small = sample["size"] <= sample["joins"]
        teller.true(PLAN, f"{place}, size", small, sample["size"], "no more than its joins")
        for name in ("good", "bad"):
            teller.same(PLAN, f"{place}, {name}", sample[name], sample["found"].count(name))
        teller.same(PLAN, f"{place}, found", len(sample["found"]), len(drawn))
        told = sample["verdict"] in _VERDICTS
        teller.true(PLAN, f"{place}, verdict", told, sample["verdict"], _VERDICTS)
        for name, copy, ring in drawn:
            known = ring in lots.get(kind, {}).get(name, ()) and 1 <= copy <= copies.get(name, 0)
            if not known:
                teller.tell(PLAN, f"{place}, drawn", [name, copy, ring], "a join of this lot")
    for kind, of in lots.items():
        every = sum(len(rings) * copies[name] for name, rings in of.items())
        teller.same(PLAN, f"samples, {kind[0]} {kind[1]:g} mm, joins", joins_of.get(kind, 0), every)
    shown = [
        (lot["lot"], lot["joins"], float(lot["limit"]), lot["accept"], lot["reject"], lot["found"],
         lot["drawn"])
        for lot in files.sheet["checks"]
    ]  # fmt: skip
    planned = [
        (s["lot"], s["joins"], s["aql_percent"], s["accept"], s["reject"], s["found"],
         [[number.get(name, -1), copy - 1, ring - 1] for name, copy, ring in s["drawn"]])
        for s in files.plan["samples"]
    ]  # fmt: skip
    teller.same(SHEET, "checks", shown, planned)
