"""First settings: what a pulse must melt, what runs away meanwhile, and the range of both."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from chainplan.examine.reading import PLAN
from chainplan.examine.registry import check

if TYPE_CHECKING:
    from chainplan.examine.findings import Teller
    from chainplan.examine.reading import PlanFiles

_POOL = (0.5, 2 / 3, 1.0)
"""Molten volume over wire section × spot: low, half an ellipsoid, all."""
_OVER_ROOM = 1.15
"""Mean specific heat up to the liquidus over that of the cold metal, where only this is known."""
_KEPT_OFF, _DEPTH_OFF = 0.002, 0.0051
"""Of a sum in steps; depths are written to a hundredth of a millimetre."""
_SAID = re.compile(r"molten ([\d.]+) mm deep and ([\d.]+) mm wide; .* J to melt, ")


@check("first settings are what melts the join")
def check_pulses(files: PlanFiles, teller: Teller) -> None:
    """Reckon heat to melt, what the pool keeps of it, and low, usual and high power anew."""
    for line in files.estimates("settings"):
        figures = {item["key"]: item for item in line["figures"]}
        if "pulse-power" not in figures:
            continue
        place = f"{line['piece']}, settings, section {line['section'] + 1}, figures"
        said = _SAID.search(figures["pulse-power"]["basis"])
        if said is None:
            teller.tell(PLAN, place, figures["pulse-power"]["basis"], "how deep and how wide")
            continue
        _check_power(files, line, figures, (float(said[1]), float(said[2])), place, teller)
        if "penetration" in figures:
            _check_groove(files, line, figures, place, teller)


def _check_power(
    files: PlanFiles, line: dict[str, Any], figures: dict[str, dict[str, Any]],
    said: tuple[float, float], place: str, teller: Teller,
) -> None:  # fmt: skip
    power, melt, kept = (figures[key] for key in ("pulse-power", "melt", "kept"))
    scaled = re.search(r"scaled by ([\d.]+) from what was recorded", line["setting"]["note"])
    factor = float(scaled[1]) if scaled else 1.0
    depth, spot = said
    if scaled is None:
        spot = _spot_mm(files, power["usual"])
        teller.near(PLAN, f"{place}, basis, mm wide", said[1], spot, off=0.0051)
    if abs(depth - line["wire_mm"]) < 0.0051:
        depth = line["wire_mm"]
    shares = [_kept(files, line["metal"], spot, end) for end in ("low", "usual", "high")]
    loose = 0.01 if scaled else 0.0  # a spot or a factor of two places
    off = (_KEPT_OFF + loose) * shares[1]
    teller.near(PLAN, f"{place}, kept", kept["usual"], shares[1], off=off)
    whole = depth == line["wire_mm"]
    least_j, heat_j, most_j = (
        _POOL[1] * _section_mm2(line["wire_mm"], at) * spot * _melting(files, line["metal"])
        for at in ((depth,) * 3 if whole else (depth - _DEPTH_OFF, depth, depth + _DEPTH_OFF))
    )
    off = (most_j - least_j) / 2 + (1e-4 + loose) * heat_j
    teller.near(PLAN, f"{place}, melt", melt["usual"], heat_j, off=off)
    arc = files.sources["bench.heat.arc_share_usual"]["usual"]
    usual = factor * melt["usual"] / kept["usual"] / arc
    teller.near(PLAN, f"{place}, usual", power["usual"], usual, off=(1e-4 + loose) * usual)
    reach = [files.value(f"bench.heat.arc_share_{end}") for end in ("high", "usual", "low")]
    for k, end in ((0, "low"), (2, "high")):
        ratio = _POOL[k] / _POOL[1] * shares[1] / shares[k] * reach[1] / reach[k]
        value = power["usual"] * ratio
        off = (2 * _KEPT_OFF + loose) * value
        teller.near(PLAN, f"{place}, {end}", power[end], value, off=off)
        for item in (melt, kept):
            teller.same(PLAN, f"{place}, {item['key']}, {end}", item[end], item["usual"])
    pulse_ms = 1000 * files.value("bench.welder.pulse_s")
    words = (
        f", {line['wire_mm']:g} mm wire, molten ", f"; {melt['usual']:.1f} J to melt, ",
        f" {kept['usual']:.0%} stay in the pool during {pulse_ms:g} ms, ",
        f" {arc:.0%} of the set energy reaches the ring",
    )  # fmt: skip
    for item in (power, melt, kept):
        teller.same(PLAN, f"{place}, basis", item["basis"], power["basis"])
    for part in words:
        text = power["basis"]
        teller.true(PLAN, f"{place}, basis", part in text, text, part)


def _check_groove(
    files: PlanFiles, line: dict[str, Any], figures: dict[str, dict[str, Any]], place: str,
    teller: Teller,
) -> None:  # fmt: skip
    """How deep the highest power reaches; length and mass of the wire that is fed."""
    highest = files.value("bench.welder.highest_power_j")
    spot = _spot_mm(files, highest)
    deep = figures["penetration"]
    for item in (deep, figures["filler"]):
        for end in ("low", "high"):
            teller.same(PLAN, f"{place}, {item['key']}, {end}", item[end], item["usual"])
    part = f", {line['wire_mm']:g} mm, {highest:g} J"
    teller.true(PLAN, f"{place}, basis", part in deep["basis"], deep["basis"], part)
    if "scaled by" not in line["setting"]["note"] and deep["usual"] < line["wire_mm"]:
        section = _section_mm2(line["wire_mm"], deep["usual"])
        arc = files.value("bench.heat.arc_share_usual")
        needed = _POOL[1] * section * spot * _melting(files, line["metal"])
        needed /= _kept(files, line["metal"], spot, "usual") * arc
        teller.near(PLAN, f"{place}, penetration, J", needed, highest, off=0.004 * highest)
    fed_mm2 = math.pi * files.value("bench.welder.filler_wire_mm") ** 2 / 4
    density = files.value(f"metal.{line['metal']}.density_g_cm3") / 1000
    mass = figures["filler"]["usual"] * fed_mm2 * density
    teller.near(PLAN, f"{place}, filler", line["filler_g"], mass, off=1e-3 * mass)


def _spot_mm(files: PlanFiles, power_j: float) -> float:
    lowest, highest = (files.value(f"bench.welder.{n}_power_j") for n in ("lowest", "highest"))
    low, high = (files.value(f"bench.welder.spot_at_{n}_mm") for n in ("lowest", "highest"))
    if not highest > lowest:
        return high
    return low + (high - low) * min(max((power_j - lowest) / (highest - lowest), 0.0), 1.0)


def _section_mm2(wire_mm: float, depth_mm: float) -> float:
    """Area of a round wire's section from its surface down to a depth, by its angle. [mm²]."""
    half = math.acos(max(min(1 - 2 * depth_mm / wire_mm, 1.0), -1.0))
    return wire_mm**2 / 4 * (half - math.sin(2 * half) / 2)


def _melting(files: PlanFiles, metal: str) -> float:
    """Heat that melts a cubic millimetre from the room's temperature on. [J/mm³]."""
    names = ("density_g_cm3", "liquidus_c", "latent_heat_kj_kg", "specific_heat_j_kg_k")
    density, liquidus, latent, cold = (files.value(f"metal.{metal}.{name}") for name in names)
    mean = files.value(f"metal.{metal}.mean_specific_heat_j_kg_k")
    mean = _OVER_ROOM * cold if math.isnan(mean) else mean
    room = files.value("bench.heat.room_c")
    return density / 1000 * (mean / 1000 * (liquidus - room) + latent)


def _kept(files: PlanFiles, metal: str, spot: float, end: str) -> float:
    """Share of a pulse's heat within the spot at its end: ∫ F dt over the pulse, by Simpson."""
    key = f"metal.{metal}.conductivity_w_m_k"
    conducts = float(files.sources[key][end])
    density, specific = (
        files.value(f"metal.{metal}.{name}") for name in ("density_g_cm3", "specific_heat_j_kg_k")
    )
    spread = 1000 * conducts / (density * specific)  # mm²/s
    wide = spot / math.sqrt(2 * spread * files.value("bench.welder.pulse_s"))

    def inside(u: float) -> float:
        """Return F at the time u², times du²/du."""
        if u == 0:
            return 0.0
        z = wide / u
        lost = math.sqrt(2 / math.pi) * (1 - math.exp(-z * z / 2)) / z
        return 2 * u * (math.erf(z / math.sqrt(2)) - lost)

    steps = 40
    odd = sum(inside(k / steps) for k in range(1, steps, 2))
    even = sum(inside(k / steps) for k in range(2, steps, 2))
    return (4 * odd + 2 * even + inside(1.0)) / (3 * steps)
