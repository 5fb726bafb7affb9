"""How hard geometries are searched for, and when two numbers count as the same.

Measured with ``tests/bench/bench_tuning.py weave`` in one run each: six repeats from their seeds,
three weaves taut and gathered from stored starts, one limit, one piece of two sections. A taut
repeat never changed by more than 3e-5 of its length, whatever was changed: what differs is time and
how far a *gathered* repeat gets, which ends early on purpose. Times within a fifth are noise.
"""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import Tunable, tuned


@frozen
class WeaveTuning:
    """The numbers of the weave stage that are no geometry. Lengths in wire diameters."""

    circle_samples: int = tuned(
        48,
        "Angles at which a pair of circles is sampled before its closest places are refined.",
        chosen="measured: beside 96 the taut states agree to 1e-7, and 96 take two thirds longer",
        less="24: taut repeats differ by 2e-5: a closest place was missed",
        more="96: two thirds longer, gathered double link within 1.1 %",
    )
    circle_newton_steps: int = tuned(
        40,
        "Most steps of refining one closest place.",
        chosen="judgement: bisection within a sample's width is exact to 1e-10 rad in 31 steps",
        less="20: where rings nestle the place is right to 1e-7 rad only",
        more="nothing: steps end when the place stands still",
    )
    ratio_step: float = tuned(
        0.06,
        "Most that the aspect ratio changes at once on the way from the seed, as a share.",
        chosen="measured: the seeds of all weaves shipped reach their limit with it",
        less="0.03: the same taut states, gathered double link 1 % shorter",
        more="0.12: the same taut states, gathered double link 22 % shorter from its seed (its "
        "stored starts know that state)",
    )
    least_ratio_step: float = tuned(
        1e-3,
        "Step of the ratio below which a weave is said not to go together.",
        chosen="judgement: four thirds of the usual step, 0.06/3⁴; limits are told to two decimals",
        less="longer until a hopeless ring is refused",
        more="a ring just above the limit may be refused from the seed",
    )
    clearance: float = tuned(
        0.3,
        "Gap between wires that is worth having on the way from the seed.",
        chosen="measured: half and twice give the same taut states",
        less="0.15: the same",
        more="0.6: a quarter longer; gathered double link 22 % shorter from its seed",
    )
    overlap_price: float = tuned(
        300.0,
        "Merit lost for each wire diameter of overlap.",
        chosen="measured: 150 and 600 give the same taut states; far above any force of a unit "
        "pull",
        less="150: gathered within 0.4 %",
        more="600: gathered Byzantine 18 % longer: it stops at the first overlap",
    )
    clean_overlap: float = tuned(
        2e-7,
        "Overlap below which nothing is left to put right.",
        chosen="measured: half and twice change nothing; a fifth of what a result may overlap",
        less="more corrections that no result needs",
        more="1e-6 and above: results would break the promise on overlap",
    )
    stall_steps: int = tuned(
        8,
        "Steps whose gain together decides whether a search goes on.",
        chosen="measured: 4 and 16 change gathered repeats by below 0.1 %, taut ones not at all",
        less="4: gathered double link 0.03 % longer",
        more="16: 0.08 % shorter, a third longer to search",
    )
    newton_gain: float = tuned(
        0.1,
        "Promised gain below which the bearing places are known well enough for Newton.",
        chosen="measured: the same taut states with half and twice",
        less="0.05: gathered Byzantine 0.9 % longer",
        more="0.2: two thirds longer; gathered double link 24 % shorter from its seed",
    )
    good_share: float = tuned(
        0.5,
        "Share of the promised gain from which a step is called good and may be longer.",
        chosen="measured: 0.25 and 1 give the same taut states and gathered ones 0.3 to 1 % longer",
        less="0.25: poor steps are kept",
        more="1.0: a third longer, since hardly any step is good enough",
    )
    step_price: float = tuned(
        1e-5,
        "Merit lost for each wire diameter that a ring moves: without a reason it stays.",
        chosen="measured: half and twice change gathered double link by 0.02 and 0.2 %",
        less="loose rings wander",
        more="the last bit of a long flat way is not gone",
    )
    second_weight: float = tuned(
        1e-3,
        "Weight of what is otherwise indifferent: a sheet's width when it is pulled along.",
        chosen="measured: half and twice change nothing",
        less="the width of a sheet hangs on rounding",
        more="the width takes part in what is maximised",
    )
    difference: float = tuned(
        1e-5,
        "Step of the differences that Newton's curvature is made of.",
        chosen="judgement: cube root of rounding, where errors of both kinds are least",
        less="rounding shows in the curvature",
        more="the curvature is that of another place",
    )
    loaded: float = tuned(
        1e-7,
        "Force above which a place bears load, the pull being 1.",
        chosen="judgement: tolerance of the linear programmes",
        less="places that carry rounding are held closed",
        more="places that bear are let go",
    )
    nestles: float = tuned(
        0.02,
        "Second derivative of the squared distance below which rings lie face to face.",
        chosen="measured: half and twice change gathered double link by 0.01 %; with it "
        "Byzantine takes three steps of Newton instead of hundreds",
        less="0.01: the same",
        more="0.04: the same",
    )
    flat: float = tuned(
        1e-5,
        "Bend per wire diameter below which a direction counts as free.",
        chosen="judgement: rounding of second differences with the step above",
        less="noise is followed as if it were downhill",
        more="shallow ways are not gone",
    )
    kept_repeats: int = tuned(
        256,
        "Solved repeats kept in memory.",
        chosen="judgement: a comparison of ten sizes in three states of several weaves, each "
        "below 1 kB for six rings",
        less="a comparison solves the same ring again",
        more="memory",
    )
    bad_blend: float = tuned(
        0.01,
        "Overlap that shows the blend of two stored states to be no good start.",
        chosen="measured: half and twice change nothing",
        less="a good blend is passed over for a neighbour",
        more="a bad one is tried first and costs a failed search",
    )
    same_branch: float = tuned(
        0.6,
        "Stored neighbours whose rings lie further apart are not blended.",
        chosen="measured: half and twice change nothing; stored neighbours lie 0 to 0.25 apart "
        "in the middle of their range, 0.7 where they differ most, and 0.8 to 4.4 across "
        "a jump",
        less="0.1: most neighbours would not be blended",
        more="two kinds of locked state are blended into neither",
    )
    blend_room: float = tuned(
        1.1,
        "Share of a blend's overlap that is made good before a gathered search starts.",
        chosen="measured: twice changes nothing",
        less="0.55: gathered Byzantine 0.5 % shorter, though its start overlaps",
        more="2.2: the same",
    )
    end_reach: float = tuned(
        2.5,
        "Outer diameters of an end's rings within which a connecting ring looks for others.",
        chosen="measured: half and twice change nothing",
        less="below 1: a ring in the way is not seen",
        more="more rings to test",
    )
    hang_angles: int = tuned(
        12,
        "Turns about the chain's axis at which a connecting ring is tried: 15° apart.",
        chosen="measured: the end of a piece moves by 0.2 mm/m with 24",
        less="6: 0.02 mm/m",
        more="24: 0.2 mm/m, twice the tries",
    )
    hang_rounds: int = tuned(
        5,
        "Rounds of trying places nearby, each half as far.",
        chosen="measured: 2 and 10 move the end of a piece by 0.01 mm/m",
        less="2: the same",
        more="10: the same",
    )
    hang_tries: int = tuned(
        24,
        "Places tried at each angle in each round.",
        chosen="measured: 12 and 48 move the end of a piece by 0.2 mm/m",
        less="12: 0.2 mm/m",
        more="48: 0.2 mm/m",
    )
    depth_points: int = tuned(
        64,
        "Points of a ring at which it is asked how deep it reaches between two others.",
        chosen="judgement: 6° apart; a bound on the slope tells which peaks may win",
        less="more peaks to refine",
        more="more points in every test of a folded weave",
    )
    depth_spacing: float = tuned(
        0.125,
        "Spacing of the points around a peak, over the spacing before.",
        chosen="judgement: 17 points a round",
        less="more points a round",
        more="more rounds for the same angle",
    )
    depth_refinements: int = tuned(
        3,
        "Rounds of refining a peak.",
        chosen="judgement: 6°/8³ is 0.01°, far below any margin that a weave file asks for",
        less="2: 0.1°",
        more="nothing that shows",
    )
    roll_points: int = tuned(
        720,
        "Rolls about the chain's axis that are tried to lay a repeat as its seed lies.",
        chosen="judgement: half a degree finds the right one of several equal rolls",
        less="72: the roll may settle on a lesser likeness",
        more="nothing that shows",
    )
    roll_spacing: float = tuned(
        0.1,
        "Spacing of the rolls around the best, over the spacing before.",
        chosen="judgement: 21 rolls a round",
        less="more rolls a round",
        more="more rounds for the same angle",
    )
    roll_refinements: int = tuned(
        5,
        "Rounds of refining the roll.",
        chosen="judgement: 0.5°/10⁵ is rounding of the poses",
        less="3: pieces lie askew by 1e-5 rad",
        more="nothing that shows",
    )
    prefer_small_roll: float = tuned(
        1e-6,
        "Likeness lost for each radian of roll, so that of equal rolls the smallest is taken.",
        chosen="judgement: far above rounding, far below any real difference of likeness",
        less="which of four equal rolls is taken hangs on rounding",
        more="a smaller roll wins over a better one",
    )
    shells: int = tuned(
        6,
        "How many links away the rings are counted by which link graphs are told apart.",
        chosen="measured: all graphs of the library that ever differ do so by the third",
        less="2: eleven of the twelve are told apart, with 1 seven",
        more="slower, and nothing more is told apart in the library",
    )
    same_shape: float = tuned(
        2e-3,
        "Relative difference of the measures of two repeats that count as one shape.",
        chosen="measured: roundmaille from two seeds differs by 6e-4 at most; weaves of the "
        "same links differ by 0.11 and more",
        less="one weave from two seeds is called two",
        more="two states of one weave are called one",
    )
    check_factors: tuple[float, ...] = tuned(
        (1.08, 1.25, 1.6),
        "Ratios at which a weave file is solved, over its smallest one.",
        chosen="judgement: what the words call tight, supple and loose",
        less="below 1.03 a search from the seed may not get there",
        more="a loose chain hangs in several ways, which tells little about the weave",
    )
    cells_at_once: int = tuned(
        8192,
        "Repeats that are filled with rings at a time.",
        chosen="judgement: arrays of a few hundred kB stay in a processor's cache",
        less="more calls for the same work",
        more="memory at the peak",
    )
    same_row: float = tuned(
        0.5,
        "Rings of a sheet's seed whose y differ by less lie in one row.",
        chosen="judgement: rows lie a ring's radius apart, at least 1.5",
        less="rings of one row that lean are counted as two rows",
        more="1.5: two rows of small rings are counted as one",
    )
    taut_step: float = tuned(
        0.04,
        "Step of the stored taut states, in the logarithm of the ratio, before halving.",
        chosen="judgement: after halving 2 %, from where a wanted ratio takes a step or two",
        less="larger files, longer to make",
        more="a ring between two of them is further from its start",
    )
    gathered_step: float = tuned(
        0.12,
        "The same for gathered states.",
        chosen="judgement: after two halvings 3 %; gathered searches are the slow ones",
        less="larger files, much longer to make",
        more="looseness is told less exactly",
    )
    taut_halvings: int = tuned(
        1,
        "How often the steps of the stored taut states are halved.",
        chosen="judgement: states between two good neighbours come out better than from one",
        less="0: twice the step",
        more="twice the time to make",
    )
    gathered_halvings: int = tuned(
        2,
        "The same for gathered states.",
        chosen="judgement: as above, from a wider first step",
        less="1: twice the step",
        more="twice the time to make",
    )
    taut_restarts: int = tuned(
        2,
        "Further tries from shaken rings for a stored taut state and for the limit.",
        chosen="judgement: finds the locked state that makers know in every weave shipped",
        less="0: roundmaille and Half Persian may lock in another state",
        more="longer to make",
    )
    gathered_restarts: int = tuned(
        1,
        "The same for a stored gathered state.",
        chosen="judgement: neighbours on both sides help more than shaking",
        less="0: fewer short states found",
        more="longer to make",
    )
    grid_gather_steps: int = tuned(
        30,
        "Most linear programmes for a stored gathered state from a neighbour.",
        chosen="judgement: a neighbour is near; from the seed it may take 80",
        less="looseness is a looser bound",
        more="longer to make",
    )
    grid_better: float = tuned(
        1e-5,
        "Share of its worth that a state must win to replace a stored one.",
        chosen="judgement: less is not resolved by a pull, which ends at 1e-5",
        less="states are exchanged for noise and offered to all their neighbours",
        more="better states are not kept",
    )
    grid_reach: float = tuned(
        2.5,
        "Largest stored ratio over the smallest one that goes together.",
        chosen="judgement: rings so loose that no weave of the library holds its pattern",
        less="loose rings are solved from their seed, in seconds",
        more="larger files for rings that nobody makes",
    )
    grid_large: int = tuned(
        8,
        "Repeats of more rings than this get half as many stored states.",
        chosen="judgement: only one weave of the library is larger, and a search takes its time",
        less="more weaves with coarse starts",
        more="many minutes for one weave",
    )


tuning = Tunable(WeaveTuning())
