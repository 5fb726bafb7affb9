"""What a piece takes and costs, reckoned anew from the counts and values that the plan lists.

Every value comes from ``estimates.sources`` by its key, every count from ``estimates.counts``; the
sums are those that the workbook's sheets tell. With another quantity, or another value, the same
sums give quantity breaks and cost drivers.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any

from chainplan.examine.space.mass import ring_mass_g

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.examine.reading import PlanFiles

FILLER_LOSS = 1.1
"""Filler that is fed in over filler that stays in the joint."""
STATIONS = (
    "coil", "cut", "tumble", "pre-close", "weave", "fitting", "set up", "weld", "rework", "clean",
    "inspect", "finish", "last fitting",
)  # fmt: skip
AT_THE_WELDER = ("pre-close", "set up", "weld", "rework")
_G_PER = {"g": 1, "kg": 1000, "ozt": 31.1034768}
"""Grams in a unit by which metal is priced; the troy ounce is 480 grains of 64.79891 mg (exact)."""


class Values:
    """The values used, by key, with some of them changed."""

    def __init__(self, files: PlanFiles) -> None:
        self._files = files
        self._changed: Mapping[str, float] = {}
        self.currency = str(files.plan["estimates"]["currency"])
        self._prices: dict[str, tuple[str, float, str]] = {}
        self._read_prices()

    def changed(self, changed: Mapping[str, float]) -> Values:
        """Give the same with some values changed; the prices are not read again."""
        other = copy(self)
        other._changed = changed
        return other

    def _read_prices(self) -> None:
        files = self._files
        for row in files.estimates("sources"):
            if row["key"].startswith("price."):
                item = row["key"].removeprefix("price.")
                dated = row["basis"].rpartition(", ")[2]
                if item not in self._prices or dated >= self._prices[item][0]:
                    self._prices[item] = (dated, float(row["usual"]), row["unit"])

    def __call__(self, key: str) -> float:
        """Value of a bench setting or of a metal, by its key."""
        return self._changed.get(key, self._files.value(key))

    def bench(self, group: str, name: str) -> float:
        """Value of a bench setting."""
        return self(f"bench.{group}.{name}")

    def price(self, item: str) -> tuple[float, str] | None:
        """Price of an item and what it is per; the newest of several."""
        found = self._prices.get(item)
        if found is None:
            return None
        return found[1] * self._changed.get(f"price.{item}", 1.0), found[2].rpartition("/")[2]

    def each(self, item: str) -> float | None:
        """Price of an item as it is given."""
        found = self.price(item)
        return None if found is None else found[0]

    def extras(self, copies: int) -> list[tuple[str, float]]:
        """List what every copy costs besides: what for, and the rate of a copy."""
        found = []
        for item, (_, price, unit) in self._prices.items():
            if item.startswith("extra "):
                price *= self._changed.get(f"price.{item}", 1.0)
                if unit.endswith("/job"):
                    price = float(rounded(price / copies, 6))
                found.append((item.removeprefix("extra "), price))
        return found

    def per_g(self, item: str) -> float | None:
        """Price of a metal, or of solder, per gram, to six decimals."""
        found = self.price(item)
        if found is None or found[1] not in _G_PER:
            return None
        return float(rounded(found[0] / _G_PER[found[1]], 6))


def rounded(value: float | Decimal | str, places: int) -> Decimal:
    """Round to some decimals, a half away from zero."""
    return Decimal(str(value)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def short_risk(rings: int, spares: int, bad: float) -> float:
    """Chance that more than some spares of all rings made are bad: the tail of a binomial."""
    from scipy.special import bdtrc

    return float(bdtrc(spares, rings + spares, bad)) if bad > 0 and spares >= 0 else float(bad > 0)


@dataclass(frozen=True)
class Costing:
    """What one piece takes, some copies of it."""

    wire: list[dict[str, float]]
    pulses: dict[str, float]
    minutes: dict[str, float]  # by station, usual
    lines: list[tuple[str, float, float]]  # item or kind of item, quantity, rate

    def cost(self, decimals: int) -> Decimal:
        """Sum of the lines, each rounded once."""
        return sum(
            (rounded(rounded(q, 4) * rounded(r, 6), decimals) for _, q, r in self.lines), Decimal(0)
        )

    def hours(self, stations: tuple[str, ...] = STATIONS) -> float:
        """Hours at some stations."""
        return sum(self.minutes[name] for name in stations) / 60


@dataclass(frozen=True)
class Known:
    """What the sums need beside counts and values: shared by the whole job."""

    lines: int  # groups of rings in the whole job
    weld_share: float
    argon_rate: float | None
    copies: int  # of all pieces of the job
    precious: frozenset[str]  # metals whose scrap comes back
    hallmarked: frozenset[str]  # pieces that need one


def bad_share(values: Values) -> float:
    """Share of cut rings that are lost before or at their welds."""
    lost = (1 - values.bench("wire", "join_yield")) * values.bench("wire", "replaced_share")
    return 1 - (1 - values.bench("wire", "ring_scrap")) * (1 - lost)


def risk_each(values: Values, lines: int) -> float:
    """Risk of running short that each of several groups may take."""
    risk = values.bench("wire", "short_risk")
    return 1 - (1 - risk) ** (1 / lines) if lines > 1 else risk


def fewest_spares(rings: int, bad: float, risk: float) -> int:
    """Fewest spare rings that keep the risk."""
    if rings == 0 or bad <= 0:
        return 0
    low, high = -1, max(8, math.ceil(rings * bad * 3))
    while short_risk(rings, high, bad) > risk:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if short_risk(rings, middle, bad) > risk else (low, middle)
    return high


def reckon(
    values: Values, counts: dict[str, Any], known: Known, *, quantity: int | None = None,
    weld_s: float | None = None, from_stock: tuple[int, ...] = (),
) -> Costing:  # fmt: skip
    """Reckon one piece anew.

    Parameters
    ----------
    values : Values
        Bench, metals and prices.
    counts : dict
        The piece's row of ``estimates.counts``.
    known : Known
        What the whole job shares.
    quantity, weld_s : optional
        Another number of copies, another welding time.
    from_stock : tuple of int
        Finished rings that each group takes from the shelf.
    """
    copies = counts["quantity"] if quantity is None else quantity
    weld_s = counts["weld_s"] if weld_s is None else weld_s
    groups = counts["groups"]
    stock = from_stock or (0,) * len(groups)
    wire = [
        _wire(values, group, copies, known, shelf)
        for group, shelf in zip(groups, stock, strict=True)
    ]
    pulses = _pulses(values, groups, copies, weld_s)
    minutes = _minutes(
        values, groups, copies, wire, pulses, weld_s * known.weld_share, counts["fittings"]
    )
    minutes |= {station: copies * each for station, each in counts["minutes"]}
    lines = _lines(values, counts, copies, wire, pulses, minutes, known)
    return Costing(wire, pulses, minutes, lines)


def _joins(group: dict[str, Any]) -> int:
    return int(group["joins_in_place"] + group["joins_beforehand"])


def _wire(
    values: Values, group: dict[str, Any], copies: int, known: Known, shelf: int
) -> dict[str, float]:
    rings = group["rings"] * copies
    bad = bad_share(values)
    spares = fewest_spares(rings, bad, risk_each(values, known.lines))
    cut = max(rings + spares - shelf, 0)
    wire, inner = group["wire_mm"], group["inner_mm"]
    turns = max(1, math.floor(values.bench("wire", "mandrel_length_mm") / wire + 1e-9))
    coils = math.ceil(cut / turns)
    length = cut * (math.pi * (inner + wire) + values.bench("wire", "kerf_mm"))
    length += coils * values.bench("wire", "coil_end_scrap_mm")
    density = values(f"metal.{group['metal']}.density_g_cm3")
    filler = group["filler_g"] * _joins(group) * copies
    used = length * math.pi / 4 * wire**2 * density / 1000 + filler
    used += min(shelf, rings + spares) * ring_mass_g(wire, inner, density)
    inside = rings * ring_mass_g(wire, inner, density) + filler / FILLER_LOSS
    return {
        "rings": rings, "spare_rings": spares, "coils": coils, "wire_length_m": length / 1000,
        "mass_in_piece_g": inside, "mass_used_g": used, "scrap_g": used - inside,
        "rings_from_stock": min(shelf, rings + spares),
        "shown_risk": short_risk(rings, spares, bad), "cut": cut,
        "fewer_risk": short_risk(rings, spares - 1, bad) if spares else 1.0,
        "g_per_m": math.pi / 4 * wire**2 * density,
    }  # fmt: skip


def _pulses(
    values: Values, groups: list[dict[str, Any]], copies: int, weld_s: float
) -> dict[str, float]:
    def welder(name: str) -> float:
        return values.bench("welder", name)

    first = copies * sum(_joins(g) * (g["hits"] + welder("smoothing_hits")) for g in groups)
    energy = copies * sum(_joins(g) * g["hits"] * g["power_j"] for g in groups)
    again = 1 / values.bench("wire", "join_yield") - 1
    puff = (
        welder("flow_l_min")
        / 60
        * sum(welder(name) for name in ("pre_flow_s", "pulse_s", "post_flow_s"))
    )
    hours = weld_s * copies / 3600
    leak = hours * welder("leak_l_h")
    low, usual, high = first, first * (1 + again), first * (1 + 2 * again)
    regrinds = math.ceil(usual / welder("pulses_per_regrind") - 1e-9)
    mains = energy * (1 + again) / welder("mains_share") + welder("idle_w") * hours * 3600
    return {
        "low": low, "usual": usual, "high": high, "puff_l": puff,
        "gas_low": low * puff, "gas": usual * puff + leak, "gas_high": high * puff + 2 * leak,
        "tips": usual / (welder("pulses_per_regrind") * welder("regrinds_per_tip")),
        "regrinds": regrinds, "regrind_min": regrinds * welder("regrind_min"),
        "kwh": mains / 3.6e6,
    }  # fmt: skip


def _minutes(
    values: Values, groups: list[dict[str, Any]], copies: int, wire: list[dict[str, float]],
    pulses: dict[str, float], weld_s: float, fittings: list[dict[str, Any]],
) -> dict[str, float]:  # fmt: skip
    def own(name: str) -> float:
        return values.bench("stations", name)

    cut = sum(need["cut"] for need in wire)
    weave = sum(
        g["rings"] * own("weave_ring_s") + g["links"] * own("weave_link_s")
        for g in groups
        if g["links"] > 0
    )
    handle, extra = (values.bench("pace", name) for name in ("handle_s", "extra_hit_s"))
    before = sum(g["joins_beforehand"] * (handle + (g["hits"] - 1) * extra) for g in groups)
    groove = sum(_joins(g) * g["filler_s"] for g in groups)
    joins = copies * sum(_joins(g) for g in groups)
    learned = copies ** math.log2(own("learning_percent") / 100)
    again = 1 / values.bench("wire", "join_yield") - 1
    return {
        "coil": sum(need["coils"] for need in wire) * own("coil_min"),
        "cut": cut * own("cut_s") / 60,
        "tumble": math.ceil(cut / own("tumble_rings")) * own("tumble_min"),
        "pre-close": before * copies / 60,
        "weave": weave * copies * learned / 60,
        "set up": own("set_up_min"),
        "weld": copies * (weld_s + groove) / 60 + pulses["regrind_min"],
        "rework": joins * again * own("rework_s") / 60,
        "clean": copies * own("clean_min"),
        "inspect": joins * own("inspect_s") / 60,
        "finish": copies * own("finish_min"),
        **{
            station: copies * own("fitting_min") * sum(f["station"] == station for f in fittings)
            for station in ("fitting", "last fitting")
        },
    }


def _lines(
    values: Values, counts: dict[str, Any], copies: int, wire: list[dict[str, float]],
    pulses: dict[str, float], minutes: dict[str, float], known: Known,
) -> list[tuple[str, float, float]]:  # fmt: skip
    """Lines of the cost with a price and a quantity, in order: item, quantity, rate."""
    lines: list[tuple[str, float, float]] = []
    groups = counts["groups"]
    for metal in dict.fromkeys(group["metal"] for group in groups):
        needs = [need for need, group in zip(wire, groups, strict=True) if group["metal"] == metal]
        price = values.per_g(metal)
        if price is not None:
            lines.append(("metal:", sum(need["mass_used_g"] for need in needs), price))
        for need in needs:
            lines += _premium(values, metal, need)
        if price is not None and metal in known.precious:
            share = values.bench("money", "scrap_back_percent") / 100
            back = -float(rounded(rounded(price, 6) * rounded(share, 6), 6))
            lines.append(("scrap back:", sum(need["scrap_g"] for need in needs), back))
    labour = values.bench("money", "labour_per_hour")
    lines += [(f"labour: {name}", minutes[name] / 60, labour) for name in STATIONS]
    lines.append(("changes of setting", counts["change_h"], labour))
    above = float(counts["wage_above_per_hour"])
    lines.append(("wages beside labour", sum(minutes.values()) / 60, above))
    cut = sum(need["cut"] for need in wire)
    hallmarks = copies if counts["piece"] in known.hallmarked else 0
    supplies = (
        ("argon", pulses["gas"], known.argon_rate),
        ("electrode tip", pulses["tips"], values.each("electrode tip")),
        ("electricity", pulses["kwh"], values.each("electricity")),
        ("saw blade", cut / values.bench("wire", "rings_per_blade"), values.each("saw blade")),
        ("clasp", copies * counts["clasps"], values.each("clasp")),
        *_fittings(values, counts, copies),
        ("cleaning", copies, values.each("cleaning")),
        ("packing", copies, values.each("packing")),
        ("hallmark", hallmarks, values.each("hallmark")),
        ("overhead", sum(minutes.values()) / 60, values.each("overhead")),
    )
    lines += [(item, quantity, rate) for item, quantity, rate in supplies if rate is not None]
    lines += [(f"extra: {name}", copies, rate) for name, rate in values.extras(known.copies)]
    return [line for line in lines if rounded(line[1], 4) > 0 and line[2] != 0]


def price_of_fitting(values: Values, fitting: dict[str, Any]) -> float | None:
    """Price of a fitting: its own, or the price item of its kind."""
    own = fitting["price"]
    return values.each(fitting["kind"]) if own is None else float(own)


def _fittings(
    values: Values, counts: dict[str, Any], copies: int
) -> list[tuple[str, float, float | None]]:
    """Fittings and extras of a piece, those of one name together."""
    found: dict[str, tuple[int, float | None]] = {}
    for fitting in counts["fittings"]:
        rate = price_of_fitting(values, fitting)
        word = "extra" if fitting["kind"] == "extra" else "fitting"
        item = f"{word}: {fitting['name']}"
        if rate is not None:
            found[item] = (found.get(item, (0, None))[0] + 1, rate)
    return [(item, copies * number, rate) for item, (number, rate) in found.items()]


def _premium(values: Values, metal: str, need: dict[str, float]) -> list[tuple[str, float, float]]:
    """Price drawn wire above its metal, from a price per gram or per metre."""
    found = values.price(f"wire premium {metal}")
    if found is None:
        return []
    grams = need["wire_length_m"] * need["g_per_m"]
    if found[1] == "m":
        rate = float(rounded(found[0] / float(rounded(need["g_per_m"], 6)), 6))
        return [("wire premium:", grams, rate)]
    per_g = values.per_g(f"wire premium {metal}")
    return [] if per_g is None else [("wire premium:", grams, per_g)]
