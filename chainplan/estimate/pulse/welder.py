"""First welder setting to try on scrap: recorded by the user, or estimated from the physics."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.errors import InputError
from chainplan.estimate.figure import figure_of
from chainplan.estimate.pulse.groove import GroovePlan, plan_groove
from chainplan.estimate.pulse.melting import PulseNeed, power_for_depth, spot_mm
from chainplan.estimate.tuning import tuning
from chainplan.frozen import frozen
from chainplan.model.estimate import Figure, SettingLine
from chainplan.model.kinds import Tip
from chainplan.model.order import WeldSetting
from chainplan.model.said import said
from chainplan.reference.texts import in_english

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.model.bench import Bench
    from chainplan.model.bench.groups import WelderSettings
    from chainplan.model.job import RecordedSetting
    from chainplan.model.metal import Metal

TRY_ON_SCRAP = "try on scrap of the same metal and wire first"

SOURCE = "computed: heat to melt the join; pool shape and arc share are judgement, no source"


@frozen
class _Choice:
    """A setting with its words, before it becomes a line."""

    setting: WeldSetting
    steps: tuple[str, ...]
    figures: tuple[Figure, ...] = ()
    cautions: tuple[str, ...] = ()
    groove: GroovePlan | None = None


def nearest_step_j(power_j: float, welder: WelderSettings) -> float:
    """Return the power on the welder's steps that is nearest, within its ends, in J.

    Examples
    --------
    >>> from chainplan.model.bench.groups import WelderSettings
    >>> nearest_step_j(11.4, WelderSettings()), nearest_step_j(99.0, WelderSettings())
    (11.0, 40.0)
    """
    steps = round((power_j - welder.lowest_power_j) / welder.power_step_j)
    power = welder.lowest_power_j + max(steps, 0) * welder.power_step_j
    return round(min(power, welder.highest_power_j), 6)


def first_setting(
    metal: Metal,
    wire_mm: float,
    *,
    bench: Bench,
    recorded: Sequence[RecordedSetting] = (),
    sides: int | None = None,
    piece: str = "",
    section: int = 0,
) -> SettingLine:
    """Say which welder setting to try first for one metal and wire.

    Parameters
    ----------
    metal : Metal
        What the ring is made of.
    wire_mm : float
        Wire diameter. [mm]
    bench : Bench
        The welder's profile, the arc share and the room's temperature.
    recorded : sequence of RecordedSetting
        What the user found good; it replaces the estimate for the same metal and wire, and scales
        it for other wires of that metal.
    sides : int, optional
        Sides that pulses come from; default: two from the bench's ``two_sides_from_mm`` on.
    piece, section : str, int
        Passed through to the result.

    Raises
    ------
    InputError
        If the metal must not be welded.
    """
    if metal.weldability == "never":
        message = f"{metal.title} must not be welded: {metal.weld_note or metal.fume_caution}"
        raise InputError(message)
    if sides is None:
        sides = 2 if wire_mm >= bench.electrode.two_sides_from_mm else 1
    same_metal = [item for item in recorded if item.metal == metal.key]
    same = [
        item for item in same_metal if abs(item.wire_mm - wire_mm) <= tuning().same_wire * wire_mm
    ]
    if same:
        choice = _from_record(same[-1], bench)
    else:
        choice = _from_physics(metal, wire_mm, bench, sides, same_metal)
    groove = choice.groove
    return SettingLine(
        piece=piece,
        section=section,
        metal=metal.key,
        wire_mm=wire_mm,
        setting=choice.setting,
        too_thick=groove is not None,
        steps=(*choice.steps, *_smoothing_step(bench, groove)),
        cautions=(TRY_ON_SCRAP, *choice.cautions, *_metal_cautions(metal)),
        figures=choice.figures,
        filler_g=groove.filler_g if groove else 0.0,
        filler_s=bench.stations.groove_s if groove else 0.0,
    )


def _from_record(record: RecordedSetting, bench: Bench) -> _Choice:
    setting = WeldSetting(
        power_j=record.power_j,
        hits=record.hits,
        tip=record.tip,
        source="recorded by the user",
        note=record.note,
        spot_mm=spot_mm(record.power_j, bench.welder),
    )
    return _Choice(setting=setting, steps=(_hits_step(setting),))


def _from_physics(
    metal: Metal,
    wire_mm: float,
    bench: Bench,
    sides: int,
    records: Sequence[RecordedSetting],
) -> _Choice:
    need, factor = _scaled_need(metal, wire_mm, bench, sides, records)
    cautions = []
    if need.usual_j > bench.welder.highest_power_j and sides == 1:
        sides = 2
        need, factor = _scaled_need(metal, wire_mm, bench, sides, records)
        cautions.append("the highest power does not reach through from one side: use two")
    if need.usual_j > bench.welder.highest_power_j:
        return _grooved(metal, wire_mm, bench, need, factor)
    if need.usual_j < bench.welder.lowest_power_j:
        cautions.append("even the lowest power may be too much: weld beside the join, or use less")
    power_j = nearest_step_j(need.usual_j, bench.welder)
    source = "estimate"
    note = "" if factor == 1 else in_english(said("note.scaled", factor=f"{factor:.2f}"))
    setting = WeldSetting(
        power_j=power_j,
        hits=sides,
        tip=Tip.SHARP,
        source=source,
        note=note,
        spot_mm=spot_mm(power_j, bench.welder),
    )
    return _Choice(
        setting=setting,
        steps=(_hits_step(setting),),
        figures=_figures(metal, wire_mm, need, bench),
        cautions=tuple(cautions),
    )


def _scaled_need(
    metal: Metal,
    wire_mm: float,
    bench: Bench,
    sides: int,
    records: Sequence[RecordedSetting],
) -> tuple[PulseNeed, float]:
    """Need of one hit, times what the user's nearest record of the metal says of the estimate."""
    need = _need(metal, wire_mm, bench, sides)
    if not records:
        return need, 1.0
    near = min(records, key=lambda item: (abs(item.wire_mm - wire_mm), item.wire_mm))
    hits = 2 if near.hits >= 2 else 1
    factor = near.power_j / _need(metal, near.wire_mm, bench, hits).usual_j
    scaled = PulseNeed(
        low_j=need.low_j * factor,
        usual_j=need.usual_j * factor,
        high_j=need.high_j * factor,
        melt_j=need.melt_j,
        kept_share=need.kept_share,
        spot_mm=need.spot_mm,
        depth_mm=need.depth_mm,
    )
    return scaled, factor


def _need(metal: Metal, wire_mm: float, bench: Bench, sides: int) -> PulseNeed:
    depth_mm = wire_mm if sides == 1 else wire_mm / 2 * tuning().overlap
    return power_for_depth(metal, wire_mm, depth_mm, bench)


def _grooved(metal: Metal, wire_mm: float, bench: Bench, need: PulseNeed, factor: float) -> _Choice:
    plan = plan_groove(metal, wire_mm, bench, factor=factor)
    welder = bench.welder
    light_j = nearest_step_j(plan.light_power_j, welder)
    angle, filler = welder.groove_angle_deg, welder.filler_wire_mm
    setting = WeldSetting(
        power_j=welder.highest_power_j,
        hits=plan.equivalent_hits,
        tip=Tip.SHARP,
        source="estimate",
        note=in_english(said("note.groove")),
        spot_mm=spot_mm(welder.highest_power_j, welder),
    )
    steps = (
        f"file a {angle:.0f}° V-groove {plan.groove_depth_mm:.2f} mm deep from both sides",
        f"tack: {plan.tacks} light pulses at {light_j:g} J, one on each side",
        f"root run: {plan.root_hits} overlapping pulses at {welder.highest_power_j:g} J",
        f"fill: feed {plan.filler_mm:.0f} mm of {filler:g} mm wire of the same metal at about 45°, "
        f"about {plan.fill_hits} pulses at {welder.highest_power_j:g} J",
    )
    depth = figure_of(
        "penetration",
        "depth of one pulse at the highest power",
        plan.penetration_mm,
        "mm",
        f"{metal.title}, {wire_mm:g} mm, {welder.highest_power_j:g} J",
        source=SOURCE,
    )
    length = figure_of(
        "filler",
        "filler wire for a join",
        plan.filler_mm,
        "mm",
        "groove volume and loss",
        source=SOURCE,
    )
    return _Choice(
        setting=setting,
        steps=steps,
        figures=(*_figures(metal, wire_mm, need, bench), depth, length),
        cautions=("too thick for the highest power even from two sides",),
        groove=plan,
    )


def _hits_step(setting: WeldSetting) -> str:
    if setting.hits == 1:
        return f"one pulse at {setting.power_j:g} J, {setting.tip} tip"
    estimated = setting.source == "estimate" and setting.hits == 2
    where = ", from opposite sides of the join" if estimated else ""
    return f"{setting.hits} pulses at {setting.power_j:g} J, {setting.tip} tip{where}"


def _smoothing_step(bench: Bench, groove: GroovePlan | None) -> tuple[str, ...]:
    hits = groove.smoothing_hits if groove else bench.welder.smoothing_hits
    if not hits:
        return ()
    highest = bench.welder.highest_power_j
    power_j = nearest_step_j(
        groove.light_power_j if groove else tuning().light_share * highest, bench.welder
    )
    return (f"smooth: {hits} pulses at {power_j:g} J with the blunt tip",)


def _metal_cautions(metal: Metal) -> tuple[str, ...]:
    found = []
    if metal.weldability == "awkward":
        found.append(f"{metal.title} is awkward to weld: {metal.weld_note}")
    elif metal.weld_note:
        found.append(metal.weld_note)
    found.extend(text for text in (metal.fume_caution, metal.skin_caution) if text)
    return tuple(found)


def _figures(metal: Metal, wire_mm: float, need: PulseNeed, bench: Bench) -> tuple[Figure, ...]:
    basis = (
        f"{metal.title}, {wire_mm:g} mm wire, molten {need.depth_mm:.2f} mm deep and "
        f"{need.spot_mm:.2f} mm wide; {need.melt_j:.1f} J to melt, {need.kept_share:.0%} stay in "
        f"the pool during {bench.welder.pulse_s * 1000:g} ms, "
        f"{bench.heat.arc_share_usual:.0%} of the set energy reaches the ring"
    )
    power = (need.low_j, need.usual_j, need.high_j)
    return (
        figure_of("pulse-power", "power a pulse needs", power, "J", basis, source=SOURCE),
        figure_of("melt", "heat that melts the pool", need.melt_j, "J", basis, source=SOURCE),
        figure_of(
            "kept",
            "share of the pulse kept in the pool",
            need.kept_share,
            "1",
            basis,
            source=SOURCE,
        ),
    )
