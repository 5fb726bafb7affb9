"""How tight the lower bound is, and how closely the verifier looks."""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import tuned


@frozen
class ProofTuning:
    """How tight the lower bound is, and how closely the verifier looks."""

    most_tree_joins: int = tuned(
        3000,
        "Up to so many joins the shortest spanning tree is found in full.",
        chosen="judgement: its time grows with the square; above, each join's two nearest "
        "neighbours give a weaker bound",
        less="1500: the same",
        more="6000: the same",
    )
    most_assignment_joins: int = tuned(
        48,
        "Up to so many joins welds are dealt out to places exactly.",
        chosen="judgement: the time grows with the third power; above, each weld gets its own best"
        " lag, which is lower still",
        less="24: the same",
        more="96: the same",
    )
    most_paired_joins: int = tuned(
        16,
        "Up to so many joins the last two welds are bounded together.",
        chosen="measured: a second and a half of the processor for 13 joins, where it raises the "
        "bound by 2 %; the time grows with the fourth power",
        less="8: the same",
        more="32: the same",
    )
    looked_at: int = tuned(
        300_000,
        "Rings between the fingers, over all steps at which they are looked at, on wide large "
        "pieces.",
        chosen="measured: all steps of a sheet of about 60 000 rings, since one likely patch of "
        "each step is looked at before all in reach; a ring there takes some 60 µs a corner",
        less="150000: sheets of more than 30 000 rings are looked at in some steps",
        more="600000: sheets of 120 000 rings are looked at throughout, in twice the time",
    )
    looked_at_narrow: int = tuned(
        10_000_000,
        "The same on chains and strips.",
        chosen="measured: all steps of a chain of a million rings; a ring there takes 1 µs a "
        "corner, since most places to hold were not welded lately",
        less="5000000: a Byzantine chain of more than 500 000 rings is looked at in some steps",
        more="nothing: a file holds no more rings",
    )
    narrow_cells: int = tuned(
        3,
        "Fingertips across a piece up to which it counts as chain or strip.",
        chosen="judgement: three are 30 mm, as wide as a cuff; what a ring feels grows with the "
        "width",
        less="2: cuffs of 60 000 rings are looked at in some steps",
        more="6: strips of 60 mm are looked at throughout, in minutes",
    )
    lately_s: float = tuned(
        90.0,
        "Welds within this time before count against a place to hold.",
        chosen="judgement: a ring has lost most of its heat by then; which place is tried first "
        "decides about time alone",
        less="45: the same",
        more="180: the same",
    )
    fewest_steps: int = tuned(
        40,
        "Steps looked at even where that is more.",
        chosen="judgement: enough to see every kind of place",
        less="20: the same",
        more="80: the same",
    )
    all_steps_rings: int = tuned(
        2000,
        "Up to so many rings every step is looked at.",
        chosen="judgement: nothing is sampled needlessly",
        less="1000: the same",
        more="4000: the same",
    )
    cells_at_once: int = tuned(
        4_000_000,
        "Cells around steps that are looked up at once.",
        chosen="judgement: bounds memory to some 200 MB",
        less="2000000: the same",
        more="8000000: the same",
    )
    cooling_s: float = tuned(
        300.0,
        "How long after the last weld a part's worst moment is looked for.",
        chosen="judgement: a part near the last weld is warmest within a minute or two",
        less="150: the same",
        more="600: the same",
    )
    peak_times: int = tuned(
        400,
        "Moments of each look for it, ever closer.",
        chosen="judgement: closest where a peak passes quickest",
        less="200: the same",
        more="800: the same",
    )
    chance_runs: int = tuned(
        2000,
        "Samples of the uncertain numbers.",
        chosen="judgement: a share of 99 in 100 is then known to 0.2; they cost a few "
        "milliseconds, since they are read off a surface",
        less="1000: the same",
        more="4000: the same",
    )
    same_k: float = tuned(
        0.05,
        "Spread over all samples below which a temperature is the same on every bench. [K]",
        chosen="judgement: no thermometer at a bench tells it, and below some hundredths of a "
        "kelvin the modes that are left out move it as much as links and air do",
        less="0: of fingers at room temperature something is said to move them by 0.002 K",
        more="0.5: the same for the samples; what moves half a kelvin decides nothing either",
    )
    most_chance_nodes: int = tuned(
        700,
        "Rings and parts up to which chance is reckoned without asking for it.",
        chosen="measured: four more networks take 5 to 15 % of a plan's time there; their eigen-"
        "solutions grow with the cube",
        less="350: the same",
        more="1400: the same",
    )
