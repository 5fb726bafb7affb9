"""The groups of bench settings; what each setting is stands in ``settings.csv``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.bench.setting import setting
from chainplan.model.kinds import ReturnLead

if TYPE_CHECKING:
    from decimal import Decimal

LANGUAGES = ("en", "de", "fr", "it", "es")
"""Languages of the bench sheet; all but English are translations that nobody of the trade has
reviewed, and say so."""


@frozen
class ElectrodeSettings:
    """Shape of the electrode and rules for where a join may lie."""

    tip_half_angle_deg: float = setting("electrode", "tip_half_angle_deg")
    blunt_tip_half_angle_deg: float = setting("electrode", "blunt_tip_half_angle_deg")
    shank_mm: float = setting("electrode", "shank_mm")
    stick_out_mm: float = setting("electrode", "stick_out_mm")
    holder_mm: float = setting("electrode", "holder_mm")
    clearance_mm: float = setting("electrode", "clearance_mm")
    spot_margin_mm: float = setting("electrode", "spot_margin_mm")
    two_sides_from_mm: float = setting("electrode", "two_sides_from_mm")
    held_in_air: bool = setting("electrode", "held_in_air")
    beforehand_distance_mm: float = setting("electrode", "beforehand_distance_mm")


@frozen
class WelderSettings:
    """An invented bench profile: put in your own welder's figures from its manual."""

    lowest_power_j: float = setting("welder", "lowest_power_j")
    highest_power_j: float = setting("welder", "highest_power_j")
    power_step_j: float = setting("welder", "power_step_j")
    spot_at_lowest_mm: float = setting("welder", "spot_at_lowest_mm")
    spot_at_highest_mm: float = setting("welder", "spot_at_highest_mm")
    pulse_s: float = setting("welder", "pulse_s")
    pre_flow_s: float = setting("welder", "pre_flow_s")
    post_flow_s: float = setting("welder", "post_flow_s")
    flow_l_min: float = setting("welder", "flow_l_min")
    smoothing_hits: int = setting("welder", "smoothing_hits")
    filler_wire_mm: float = setting("welder", "filler_wire_mm")
    groove_angle_deg: float = setting("welder", "groove_angle_deg")
    cylinder_l: float = setting("welder", "cylinder_l")
    cylinder_full_bar: float = setting("welder", "cylinder_full_bar")
    cylinder_now_bar: float = setting("welder", "cylinder_now_bar")
    cylinder_left_bar: float = setting("welder", "cylinder_left_bar")
    leak_l_h: float = setting("welder", "leak_l_h")
    pulses_per_regrind: int = setting("welder", "pulses_per_regrind")
    regrinds_per_tip: int = setting("welder", "regrinds_per_tip")
    regrind_min: float = setting("welder", "regrind_min")
    mains_share: float = setting("welder", "mains_share")
    idle_w: float = setting("welder", "idle_w")


@frozen
class HeatSettings:
    """Uncertain numbers as low, usual, high; limits at the bench."""

    room_c: float = setting("heat", "room_c")
    arc_share_low: float = setting("heat", "arc_share_low")
    arc_share_usual: float = setting("heat", "arc_share_usual")
    arc_share_high: float = setting("heat", "arc_share_high")
    warm_share: float = setting("heat", "warm_share")
    highest_interpass_c: float = setting("heat", "highest_interpass_c")
    finger_limit_c: float = setting("heat", "finger_limit_c")
    contact_s: float = setting("heat", "contact_s")
    reserve_k: float = setting("heat", "reserve_k")
    reserve_percent: float = setting("heat", "reserve_percent")
    finger_c: float = setting("heat", "finger_c")
    exposure: float = setting("heat", "exposure")
    link_load_low_mn: float = setting("heat", "link_load_low_mn")
    link_load_usual_mn: float = setting("heat", "link_load_usual_mn")
    link_load_high_mn: float = setting("heat", "link_load_high_mn")
    hold_from_mm: float = setting("heat", "hold_from_mm")
    hold_to_mm: float = setting("heat", "hold_to_mm")
    held_bare: bool = setting("heat", "held_bare")
    sides_held: int = setting("heat", "sides_held")
    end_tweezers: bool = setting("heat", "end_tweezers")

    @property
    def kept_finger_c(self) -> float:
        """Warmest that a plan lets the metal between the fingers be. [°C]."""
        return self.finger_limit_c - self.reserve_k

    @property
    def kept_interpass_c(self) -> float:
        """Warmest that a plan lets a ring be before its weld by the user's own limit; 0: none."""
        own_c = self.highest_interpass_c
        return own_c - self.reserve_k if own_c > 0 else 0.0


@frozen
class PaceSettings:
    """Seconds at the welder; measure your own and put them in."""

    handle_s: float = setting("pace", "handle_s")
    extra_hit_s: float = setting("pace", "extra_hit_s")
    move_mm_s: float = setting("pace", "move_mm_s")
    turn_s: float = setting("pace", "turn_s")
    change_setting_s: float = setting("pace", "change_setting_s")
    spoilt_percent: float = setting("pace", "spoilt_percent")
    fingertip_mm: float = setting("pace", "fingertip_mm")
    interleave: bool = setting("pace", "interleave")
    turns_worth_changes: float = setting("pace", "turns_worth_changes")
    change_piece_s: float = setting("pace", "change_piece_s")


@frozen
class LeadSettings:
    """How the piece is earthed; current that crosses many loose contacts sparks and marks them."""

    return_lead: str = setting("lead", "return_lead", choices=tuple(ReturnLead))
    clip_reach_mm: float = setting("lead", "clip_reach_mm")
    clip_reach_contacts: int = setting("lead", "clip_reach_contacts")
    clip_move_s: float = setting("lead", "clip_move_s")
    tweezers_s: float = setting("lead", "tweezers_s")


@frozen
class WireSettings:
    """How rings are made from wire on this bench."""

    kerf_mm: float = setting("wire", "kerf_mm")
    mandrel_length_mm: float = setting("wire", "mandrel_length_mm")
    coil_end_scrap_mm: float = setting("wire", "coil_end_scrap_mm")
    join_yield: float = setting("wire", "join_yield")
    ring_scrap: float = setting("wire", "ring_scrap")
    replaced_share: float = setting("wire", "replaced_share")
    rings_per_blade: int = setting("wire", "rings_per_blade")
    short_risk: float = setting("wire", "short_risk")


@frozen
class StationSettings:
    """Minutes and seconds at the stations of a practised hand; measure your own.

    They lean to the slow side of practice. Somebody new to the work takes two to three times as
    long, which is told beside them.
    """

    coil_min: float = setting("stations", "coil_min")
    cut_s: float = setting("stations", "cut_s")
    tumble_min: float = setting("stations", "tumble_min")
    tumble_rings: int = setting("stations", "tumble_rings")
    tumbling_min: float = setting("stations", "tumbling_min")
    weave_ring_s: float = setting("stations", "weave_ring_s")
    weave_link_s: float = setting("stations", "weave_link_s")
    learning_percent: float = setting("stations", "learning_percent")
    set_up_min: float = setting("stations", "set_up_min")
    fitting_min: float = setting("stations", "fitting_min")
    groove_s: float = setting("stations", "groove_s")
    rework_s: float = setting("stations", "rework_s")
    clean_min: float = setting("stations", "clean_min")
    finish_min: float = setting("stations", "finish_min")
    quick_share: float = setting("stations", "quick_share")
    slow_share: float = setting("stations", "slow_share")
    new_least_share: float = setting("stations", "new_least_share")
    new_most_share: float = setting("stations", "new_most_share")
    torch_joins_a_round: int = setting("stations", "torch_joins_a_round")
    torch_round_min: float = setting("stations", "torch_round_min")
    torch_solder_mg: float = setting("stations", "torch_solder_mg")
    inspect_s: float = setting("stations", "inspect_s")


@frozen
class MoneySettings:
    """Rates in the job's own currency; invented, so put your own."""

    currency: str = setting("money", "currency")
    labour_per_hour: Decimal = setting("money", "labour_per_hour")
    margin_percent: Decimal = setting("money", "margin_percent")
    tax_percent: Decimal = setting("money", "tax_percent")
    scrap_back_percent: Decimal = setting("money", "scrap_back_percent")
    price_age_days: int = setting("money", "price_age_days")
    decimals: int = setting("money", "decimals")
    country: str = setting("money", "country")


@frozen
class CalendarSettings:
    """When the workshop works."""

    hours_per_day: float = setting("calendar", "hours_per_day")
    working_days: str = setting("calendar", "working_days")
    day_starts_h: float = setting("calendar", "day_starts_h")
    people: int = setting("calendar", "people")
    trials: int = setting("calendar", "trials")
    hallmark_days: int = setting("calendar", "hallmark_days")
    delivery_days: int = setting("calendar", "delivery_days")
    days_off: str = setting("calendar", "days_off")


@frozen
class SheetSettings:
    """What the bench sheet is like."""

    language: str = setting("sheet", "language", choices=LANGUAGES)
    aql_percent: float = setting("sheet", "aql_percent")


@frozen
class QuoteSettings:
    """The workshop's own words; each may be empty."""

    shop: str = setting("quote", "shop")
    logo: str = setting("quote", "logo")
    contact: str = setting("quote", "contact")
    customer: str = setting("quote", "customer")
    valid_days: int = setting("quote", "valid_days")
    terms: str = setting("quote", "terms")
    care: str = setting("quote", "care")
