"""How heat is reckoned behind the planner."""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import tuned


@frozen
class ClockTuning:
    """How heat is reckoned behind the planner."""

    most_exact_joins: int = tuned(
        1200,
        "Joins up to which a piece goes weld by weld through the network's own modes.",
        chosen="judgement: the cost of that grows with joins times nodes; beyond, middling pieces "
        "get slow, below, pieces lose the search, the cooling bound and shortest waits that they "
        "could have",
        less="600: the same",
        more="2400: the same",
    )
    most_exact_nodes: int = tuned(
        2000,
        "Nodes up to which that is done.",
        chosen="judgement: as many as the heat stage solves exactly; fewer only loses accuracy",
        less="1000: the same",
        more="4000: the same",
    )
    fine_nodes: int = tuned(
        150,
        "Up to so many nodes states are double, beyond single precision.",
        chosen="measured: in a test, single adds at most 0.01 K on a chain of 200. Higher costs "
        "time on long chains, lower gains none",
        less="75: the same",
        more="300: the same",
    )
    margin_k: float = tuned(
        0.02,
        "Kept back from every limit by the exact clock, for looking at parts at some instants "
        "only and for rounding.",
        chosen="judgement: less, and the simulation sends more orders back; more costs waiting",
        less="0.01: bracelet: freer order +1.7 %; strip: freer order +0.3 %; chain with a stone:"
        " freer order −0.2 %",
        more="0.04: bracelet: freer order +1.5 %; chain with a stone: freer order +0.4 %; chain "
        "with a stone: bench time +0.3 %",
    )
    summed_margin_k: float = tuned(
        0.2,
        "The same by summed kernels, whose table is read between samples.",
        chosen="measured: in a test, sums are within 0.3 K of the exact network in 72 welds. Less "
        "sends orders back, more costs waiting",
        less="0.1: the same",
        more="0.4: the same",
    )
    tail_share: float = tuned(
        1e-3,
        "A weld counts as no longer felt when its slowest mode has fallen to this share.",
        chosen="judgement: smaller lengthens every table, larger makes the longest wait too short "
        "for tight limits",
        less="0.0005: the same",
        more="0.002: the same",
    )
    longest_s: float = tuned(
        2e4,
        "No weld is followed for longer.",
        chosen="judgement: five and a half hours are more than a piece needs to cool; it only "
        "bounds tables of pieces that hardly lose heat",
        less="10000: the same",
        more="40000: the same",
    )
    most_samples: int = tuned(
        600,
        "Even samples of a kernel for the lower bound.",
        chosen="judgement: fewer loosen the bound, since the smaller neighbour is taken; more cost"
        " time in proportion",
        less="300: the same",
        more="1200: the same",
    )
    most_cube_samples: int = tuned(
        10_500_000,
        "The same times the third power of the joins: pieces of few joins are sampled more finely.",
        chosen="measured: quarters of a second for 13 joins, half seconds for 20, as above from 26 "
        "on; more costs chains of 20 and 28 a second or two and raises no bound of theirs",
        less="5000000: half seconds for 13 joins",
        more="20000000: quarters of a second for 16 joins",
    )
    finest_step_s: float = tuned(
        0.25,
        "No finer step between samples.",
        chosen="measured: the bound of a charm of 13 joins is 123 s in steps of 2 s, 132 in steps "
        "of 0.5 and 133 in steps of 0.25, which take twice the time",
        less="0.125: the same",
        more="0.5: the same",
    )
    peak_samples: int = tuned(
        72,
        "Moments, even in log time, at which one weld's peak at a node is looked for.",
        chosen="judgement: fewer may miss a peak by a share of a kelvin, more cost time in "
        "proportion",
        less="36: the same",
        more="144: the same",
    )
    later_s: tuple[float, ...] = tuned(
        (0.0, 0.3, 1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 120.0),
        "Lags after each weld at which parts are read for the chart.",
        chosen="judgement: fewer flatten peaks; more cost time in proportion. A test holds the "
        "chart's peak to within 1 K of the limit table",
        less="half of each: the same",
        more="twice of each: the same",
    )
    most_waits: int = tuned(
        1000,
        "Up to so many whole seconds all are tried as waits.",
        chosen="judgement: beyond, waits grow by ``longer`` and nothing counts as proved",
        less="500: the same",
        more="2000: the same",
    )
    longer: float = tuned(
        1.25,
        "Growth from one wait tried to the next where not all are.",
        chosen="judgement: larger steps are halved back to seconds anyway, but may jump over the "
        "first moment that a part allows",
        less="1.125: the same",
        more="1.5: the same",
    )
    steps_at_once: int = tuned(
        96,
        "Steps of all orders together that are followed before the limits are asked.",
        chosen="measured: on the sample fair: 24 takes a fifth longer; more throws away more work "
        "where a wait comes between",
        less="48: the same",
        more="192: the same",
    )
    least_ahead: int = tuned(
        8,
        "So many steps are followed first, and twice as many each time no wait comes between.",
        chosen="judgement: waits come early in orders that wait often",
        less="4: the same",
        more="16: the same",
    )
    waits_together: int = tuned(
        8,
        "Waits that are tried together at first.",
        chosen="judgement: most waits are of a few seconds",
        less="4: the same",
        more="16: the same",
    )
    first_at_once: int = tuned(
        4,
        "Waits of each join of a small piece that are asked together first.",
        chosen="measured: with 1 a quarter slower on the sample bracelets; most waits are of a few"
        " seconds",
        less="2: the same",
        more="8: the same",
    )
    most_at_once: int = tuned(
        64,
        "Waits asked together at most.",
        chosen="judgement: fewer turns of the loop against work thrown away",
        less="32: the same",
        more="128: the same",
    )
    ahead_s: int = tuned(
        30,
        "For so many seconds after a weld parts are looked at each second.",
        chosen="judgement: a clasp next to the join is warmest within half a minute; shorter "
        "misses peaks, longer costs memory",
        less="15: the same",
        more="60: the same",
    )
    soon_s: tuple[float, ...] = tuned(
        (0.15, 0.3, 0.6),
        "Moments before the first of those at which parts are looked at too.",
        chosen="judgement: the spot of a stone that a welded ring touches is warmest after some "
        "tenths of a second; unseen, margins grow until limits seem impossible that a wait keeps",
        less="(0.075, 0.15, 0.2): the same",
        more="(0.3, 0.6, 0.8): the same",
    )
    ahead_samples: int = tuned(
        40,
        "Moments after that, evenly spread in log time.",
        chosen="judgement: as the seconds before",
        less="20: the same",
        more="80: the same",
    )
    neglected: float = tuned(
        0.01,
        "Welds that together bring a part less than this share of its cap are not followed one"
        " by one, and their sum is kept back.",
        chosen="judgement: larger costs waiting, smaller time",
        less="0.005: the same",
        more="0.02: the same",
    )
    forward_joins: int = tuned(
        5000,
        "Up to so many joins the summed clock puts waits in one after another, each the "
        "shortest that will do, as the exact clock does.",
        chosen="judgement: that costs some milliseconds a join and order; above, all joins that "
        "are too warm are put off at once, which waits up to twice as long",
        less="2500: the same",
        more="10000: the same",
    )
    waits_s: tuple[float, ...] = tuned(
        (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0),
        "Waits that the summed clock puts before joins that are too warm, all at once.",
        chosen="judgement: closer steps wait less in all and need more looks, each over the whole "
        "piece",
        less="half of each: the same",
        more="twice of each: the same",
    )
    wait_rounds: int = tuned(
        6,
        "Rounds in which those waits are put in.",
        chosen="judgement: the second catches nearly all that the first has shifted; more than six"
        " never helped where an even pace did not",
        less="3: the same",
        more="12: the same",
    )
    halvings: int = tuned(
        8,
        "Halvings of the even pace: it is then known to a 256th of its first step.",
        chosen="judgement: two seconds of the longest pause",
        less="4: the same",
        more="16: the same",
    )
    slowest_s: float = tuned(
        600.0,
        "Longest extra wait before every join that is tried.",
        chosen="judgement: ten minutes a join is no plan; a lower number would call limits "
        "impossible that patience can keep",
        less="300: the same",
        more="1200: the same",
    )
    slower: float = tuned(
        1.3,
        "Growth of the extra wait while the pace is slowed for the fingers.",
        chosen="judgement: larger steps overshoot by up to 30 %, smaller ones need more looks at "
        "the fingers",
        less="1.15: the same",
        more="1.6: the same",
    )
    part_samples: int = tuned(
        60,
        "Moments after each near weld at which the summed clock reads a part.",
        chosen="judgement: fewer may miss a peak; the simulation would then send the order back",
        less="30: the same",
        more="120: the same",
    )
    followed_s: float = tuned(
        120.0,
        "How long after a weld it reads them.",
        chosen="judgement: a part touching a welded ring is warmest within two minutes",
        less="60: the same",
        more="240: the same",
    )
    sampled_steps: int = tuned(
        3000,
        "Steps of an order that are looked at before all are.",
        chosen="judgement: on pieces beyond that size a pattern that is too warm anywhere is too "
        "warm at many steps",
        less="1500: the same",
        more="6000: the same",
    )
    held_steps: int = tuned(
        20,
        "Steps at which the fingers are looked at before all are.",
        chosen="judgement: enough to throw out patterns that keep the warm ring between the "
        "fingers throughout",
        less="10: the same",
        more="40: the same",
    )
    first_stretch: int = tuned(
        64,
        "Steps looked at first for one at which the fingers find nothing cool; then twice as many.",
        chosen="judgement: on a sheet that is too warm to hold it comes within the first passes",
        less="32: the same",
        more="128: the same",
    )
    suspects: int = tuned(
        200,
        "Joins too warm in one pattern that are looked at first in the next.",
        chosen="judgement: what was too warm in one pattern mostly is in the next",
        less="100: the same",
        more="400: the same",
    )
    shares: int = tuned(
        8,
        "Shares of all steps looked at in turn, so that a pattern can fail early.",
        chosen="judgement: a bad pattern shows within an eighth of its steps",
        less="4: the same",
        more="16: the same",
    )
    settled_joins: int = tuned(
        1_000_000,
        "Joins of all patterns together that the summed clock times to the end before it chooses.",
        chosen="judgement: more offers more patterns to the choice of a cool and plain one, at "
        "seconds each",
        less="500000: the same",
        more="2000000: the same",
    )
