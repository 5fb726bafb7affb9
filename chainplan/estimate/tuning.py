"""What the estimates assume where a workshop sets nothing, and how finely they add up.

None of these was measured at a bench: they are judgement or practice, and say so. What a workshop
can know better is a bench setting instead.
"""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import Tunable, tuned


@frozen
class EstimateTuning:
    """The numbers of the estimate stage that are neither settings nor physics."""

    same_wire: float = tuned(
        0.01,
        "Two wires whose diameters differ by this share or less are the same wire.",
        chosen="judgement: drawing tolerance of fine wire, 0.01 mm on 1 mm",
        less="a recorded setting or a coil on the shelf is passed over for rounding of its gauge",
        more="gauges that differ (0.81 and 0.80 mm do by 1.5 %) are taken for one",
    )
    pool_share: tuple[float, float, float] = tuned(
        (0.5, 2 / 3, 1.0),
        "Molten volume over wire section times spot: low, usual (half an ellipsoid), high (all).",
        chosen="judgement: bounds of what can be molten under a round spot; no section was "
        "measured",
        less="the first setting comes out too weak: the middle of the join stays open",
        more="too strong: the wire thins beside the join",
    )
    mean_over_room: float = tuned(
        1.15,
        "Mean specific heat up to the liquidus over that at 25 °C, where only this is known.",
        chosen="measured: 1.08 to 1.2 in silver, gold, copper, their alloys, aluminium and "
        "stainless steel; 1.26 to 1.6 in titanium, niobium and mild steel",
        less="1.0: heat to melt comes out 3 to 28 % low",
        more="too strong a first setting",
    )
    overlap: float = tuned(
        1.1,
        "Reach of each of two pulses from opposite sides, over half the wire.",
        chosen="judgement: a tenth beyond the middle, so that the pools meet",
        less="1.0: the pools only touch",
        more="more energy than the join needs; at 2 each pulse goes right through",
    )
    depth_points: int = tuned(
        48,
        "Steps in which the heat that flows out of the spot during a pulse is summed.",
        chosen="measured: 24 and 96 change the kept share of 1 mm silver and steel by below 0.1 %",
        less="24: below 0.1 %",
        more="96: below 0.1 %, twice the work",
    )
    light_share: float = tuned(
        0.4,
        "Power of tacks and smoothing pulses, as a share of the highest.",
        chosen="judgement: common practice is less power, with no figure",
        less="tacks may not hold",
        more="smoothing digs in again",
    )
    advance: float = tuned(
        0.6,
        "Distance between pulses of a run, in spots.",
        chosen="judgement: spots must overlap; four tenths of a spot is a usual overlap of spot "
        "seams",
        less="more hits for the same seam",
        more="1.0: spots only touch",
    )
    filler_loss: float = tuned(
        1.1,
        "Filler wire fed for each millimetre that stays in the join.",
        chosen="judgement: a tenth is spatter and ends",
        less="the filler to buy may not reach",
        more="more filler is bought than used",
    )
    tacks: int = tuned(
        2,
        "Tacks that hold a grooved join before it is filled.",
        chosen="judgement: one a side, as such joins are set up",
        less="1: the join may open on the other side",
        more="more hits before the root",
    )
    mandrel_tolerance: float = tuned(
        0.02,
        "A mandrel in stock is taken if its ring is within this share of the wanted one.",
        chosen="judgement: twice what rings of one batch differ by",
        less="a mandrel is bought though one at hand would do",
        more="rings come out visibly larger or smaller than planned",
    )
    mandrel_step_mm: float = tuned(
        0.25,
        "Step to which a mandrel to buy is named. [mm]",
        chosen="judgement: a usual series of mandrels, common practice, no source",
        less="sizes that nobody sells",
        more="rings further from what was planned",
    )
    pin_below_mm: float = tuned(
        1.0,
        "Mandrel from which on that step is used; finer ones are pins. [mm]",
        chosen="judgement: a quarter of a millimetre is a quarter of the ring there",
        less="fine rings come out far from what was planned",
        more="pins are asked for where a mandrel of the usual series would do",
    )
    pin_step_mm: float = tuned(
        0.1,
        "Step to which a pin to buy is named. [mm]",
        chosen="judgement: a usual series of pins and drills, common practice, no source",
        less="sizes that nobody sells",
        more="rings further from what was planned",
    )
    binomial_width: int = tuned(
        12,
        "Standard deviations beside the mean beyond which spoilt rings are not counted.",
        chosen="judgement: what is left out is below 1e-30, far below any risk asked for",
        less="6: what is left out is 1e-9, still below any risk",
        more="more terms that are zero in double precision",
    )
    breaks: tuple[int, ...] = tuned(
        (1, 2, 5, 10, 20, 50, 100),
        "Numbers of copies for which cost and price are shown.",
        chosen="judgement: steps of about two, as price lists have them",
        less="the price between is not told",
        more="a longer table",
    )
    most_copies: int = tuned(
        10_000,
        "A break-even number of copies above this is called never.",
        chosen="judgement: more than a bench makes of one piece in its life",
        less="a break-even that can be reached is called never",
        more="a number that means never is printed",
    )


tuning = Tunable(EstimateTuning())
