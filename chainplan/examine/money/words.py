"""Sentences beside figures, times, costs and drivers say the numbers that they are about."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from chainplan.examine.money.costing import Values
from chainplan.examine.money.reckoned import costings
from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

N = r"(-?[\d.]+)"
FIGURES: dict[str, tuple[str, tuple[tuple[str, float], ...]]] = {
    "wire": (
        rf"\+ {N} mm kerf a ring, {N} mm lost",
        (("bench.wire.kerf_mm", 1), ("bench.wire.coil_end_scrap_mm", 1)),
    ),
    "pulses": (rf"expected with {N}% of joins", (("bench.wire.join_yield", 100),)),
    "spare-rings": (rf"at most {N}% in the whole", (("bench.wire.short_risk", 100),)),
    "argon": (
        rf"pulse: {N} L/min over {N} \+ {N} \+ {N} s, leak {N} L/h",
        (
            ("bench.welder.flow_l_min", 1), ("bench.welder.pre_flow_s", 1),
            ("bench.welder.pulse_s", 1), ("bench.welder.post_flow_s", 1),
            ("bench.welder.leak_l_h", 1),
        ),
    ),
    "tips": (
        rf"{N} pulses between regrinds, {N} a tip",
        (("bench.welder.pulses_per_regrind", 1), ("bench.welder.regrinds_per_tip", 1)),
    ),
    "regrinds": (rf"after {N} pulses", (("bench.welder.pulses_per_regrind", 1),)),
    "regrind-time": (rf"{N} min each", (("bench.welder.regrind_min", 1),)),
    "cost-each": (
        rf"at {N}% and {N}% of",
        (("bench.stations.quick_share", 100), ("bench.stations.slow_share", 100)),
    ),
    "cylinder-now": (
        rf"{N} L at {N} bar",
        (("bench.welder.cylinder_l", 1), ("bench.welder.cylinder_now_bar", 1)),
    ),
    "cylinder-usable": (
        rf"{N} L at {N} bar",
        (("bench.welder.cylinder_l", 1), ("bench.welder.cylinder_now_bar", 1)),
    ),
    "cylinder-share": (rf"down to {N} bar", (("bench.welder.cylinder_left_bar", 1),)),
}  # fmt: skip
"""Key of a figure: its words, and the values in them, times a factor."""
TIMES: dict[str, tuple[str, tuple[tuple[str, float], ...]]] = {
    "coil": (rf"× {N} min", (("bench.stations.coil_min", 1),)),
    "cut": (rf"× {N} s", (("bench.stations.cut_s", 1),)),
    "tumble": (rf"up to {N} rings", (("bench.stations.tumble_rings", 1),)),
    "weave": (
        rf"{N} s a ring and {N} s a link",
        (("bench.stations.weave_ring_s", 1), ("bench.stations.weave_link_s", 1)),
    ),
    "rework": (rf"yield of {N}%", (("bench.wire.join_yield", 100),)),
    "clean": (rf"× {N} min", (("bench.stations.clean_min", 1),)),
    "inspect": (rf"× {N} s", (("bench.stations.inspect_s", 1),)),
    "finish": (rf"× {N} min", (("bench.stations.finish_min", 1),)),
    "fitting": (rf"× {N} min", (("bench.stations.fitting_min", 1),)),
    "last fitting": (rf"× {N} min", (("bench.stations.fitting_min", 1),)),
}
"""Station: the words beside its time, and the values in them, times a factor."""


def _compare(
    files: PlanFiles, rules: dict[str, tuple[str, tuple[tuple[str, float], ...]]], key: str,
    text: str, place: str, teller: Teller,
) -> None:  # fmt: skip
    rule = rules.get(key)
    found = re.search(rule[0], text) if rule else None
    if rule is None or found is None:
        return
    for words, (source, factor) in zip(found.groups(), rule[1], strict=True):
        value = files.value(source) * factor
        digits = len(words.partition(".")[2])
        off = 0.501 * 10.0**-digits if factor == 100 else 1e-5 * abs(value)
        teller.near(PLAN, place, float(words.rstrip(".")), value, off=off)


@check("words beside figures say the values")
def check_words(files: PlanFiles, teller: Teller) -> None:
    """Bases of figures and times, sources of labour lines, inputs of drivers, hallmark masses."""
    for piece, rows in files.plan["estimates"]["figures"].items():
        for row in rows:
            place = f"estimates, figures, {piece or 'batch'}, {row['key']}, basis"
            _compare(files, FIGURES, row["key"], row["basis"], place, teller)
    bases = {}
    for row in files.estimates("times"):
        place = f"estimates, times, {row['piece']}, {row['station']}, basis"
        _compare(files, TIMES, row["station"], row["basis"], place, teller)
        bases[row["piece"], f"labour: {row['station']}"] = row["basis"]
    for line in files.estimates("costs"):
        basis = bases.get((line["piece"], line["item"]))
        if basis is not None:
            place = f"estimates, costs, {line['piece']}, {line['item']}, source"
            teller.same(PLAN, place, line["source"], basis)
    _check_learning(files, teller)
    _check_inputs(files, teller)
    _check_hallmarks(files, teller)


def _check_learning(files: PlanFiles, teller: Teller) -> None:
    """Compare loads of the tumbler, and the share that learning leaves of the weaving."""
    import math

    counts = {row["piece"]: row for row in files.estimates("counts")}
    for row in files.estimates("times"):
        place = f"estimates, times, {row['piece']}, {row['station']}, basis"
        copies = counts[row["piece"]]["quantity"]
        learned = re.search(rf"{N}% of it by learning over (\d+) ", row["basis"])
        if learned:
            share = copies ** math.log2(files.value("bench.stations.learning_percent") / 100)
            teller.near(PLAN, place, float(learned.group(1)), 100 * share, off=0.501)
            teller.same(PLAN, place, int(learned.group(2)), copies)
        loads = re.match(r"(\d+) loads? of", row["basis"])
        if loads:
            cut = sum(need["cut"] for need in costings(files)[row["piece"]].wire)
            most = files.value("bench.stations.tumble_rings")
            teller.same(PLAN, place, int(loads.group(1)), math.ceil(cut / most))


def _check_inputs(files: PlanFiles, teller: Teller) -> None:
    """Compare the ends of the drivers, as they are written."""
    values = Values(files)
    quick, slow = (100 * values.bench("stations", f"{n}_share") for n in ("quick", "slow"))
    rate, kerf = values.bench("money", "labour_per_hour"), values.bench("wire", "kerf_mm")
    good = values.bench("wire", "join_yield")
    ends: dict[str, tuple[float, float]] = {
        "labour rate": (0.9 * rate, 1.1 * rate),
        "weaving time": (quick, slow),
        "welding time": (quick, slow),
        "metal price": (10, 10),
        "kerf": (kerf / 2, 2 * kerf),
        "join yield": (100 * (1 - (1 - good) / 2), 100 * max(1 - 2 * (1 - good), 0.3)),
    }
    for row in files.estimates("drivers"):
        for name, value in zip(
            ("low_input", "high_input"), ends.get(row["driver"], ()), strict=False
        ):
            told = re.search(r"[\d.]+", row[name])
            digits = len(told.group(0).partition(".")[2]) if told else 0
            place = f"estimates, drivers, {row['piece']}, {row['driver']}, {name}"
            number = float(told.group(0)) if told else None
            teller.near(PLAN, place, number, value, off=0.501 * 10.0**-digits)


def _check_hallmarks(files: PlanFiles, teller: Teller) -> None:
    """Look for the mass that a hallmark goes by among those of the metals of one copy."""
    for quote in files.estimates("quotes"):
        name = quote["piece"]
        masses: dict[str, float] = {}
        for need in files.of_piece("wire", name):
            each = need["mass_in_piece_g"] / quote["quantity"]
            masses[need["metal"]] = masses.get(need["metal"], 0.0) + each
        texts = {row["key"]: row["basis"] for row in files.plan["estimates"]["figures"][name]}
        notes = [text for text in quote["notes"] if "hallmark needed" in text]
        known = texts.get("hallmark", "")
        place = f"estimates, quotes, {name}, notes"
        for text in notes:
            teller.true(PLAN, place, text == known, text, known)
        for text in {known, *notes}:
            for told in re.finditer(rf"needed: {N} g of (\w+)", text):
                mass = float(told.group(1))
                kind = sum(own for metal, own in masses.items() if told.group(2) in metal)
                sums = [*masses.values(), kind, sum(masses.values())]
                near = any(abs(mass - value) <= 0.00501 + 1e-5 * value for value in sums)
                teller.true(
                    PLAN, place, near, told.group(0), f"one of {[round(s, 2) for s in sums]}"
                )
