"""How hard joins are searched for, and what one good place is worth against another.

Measured with ``tests/bench/bench_tuning.py join``: Byzantine of aspect ratio 3.6, Jens Pind 3 of
3.0, Full Persian of 5.8 and a strip of European 4-in-1 of 4.5, about 300 rings each in 1 mm wire.
*Clearance* is the mean gap of the electrode to other rings, *gap* that of the join to the next
wire. Scores are added up, so only the weights' proportions count.
"""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import Tunable, tuned


@frozen
class JoinTuning:
    """The numbers of the join stage that are no physics."""

    angles: int = tuned(
        36,
        "Join angles tried on a ring, evenly round it: 36 are 10° apart.",
        chosen="measured: from 36 to 72 no clearance gains and the time is 3.5 to 5 times as long",
        less="18: a third of the time saved; clearance 9 % less in Jens Pind, gap 18 % in Persian",
        more="72: clearance and gap within 1.3 %",
    )
    directions: tuple[tuple[float, int], ...] = tuned(
        ((0.0, 24), (30.0, 24), (60.0, 12)),
        "Directions of the electrode: tilt from square to the chain [°], and how many round it.",
        chosen="judgement: 15° round the chain is finer than a hand holds a tip; measured cost "
        "below",
        less="half as many, within 30°: a quarter of the time saved, gap 8 % less in Persian",
        more="twice as many: four to five times as long, gap within 1 %",
    )
    phases: int = tuned(
        720,
        "Turns of a weave's screw about the chain's axis that are told apart: half a degree.",
        chosen="measured: 360 and 1440 give the same joins in the same time; few screws have so "
        "many",
        less="a ring near the limit between two faces may be told the wrong one",
        more="more cells to search in a long chain with an odd screw angle",
    )
    circle_samples: int = tuned(
        24,
        "Points at which a ring's circle is sampled before lows of its gap are refined.",
        chosen="measured: fewest that cost nothing; gaps agree to 2e-5 of their size with 12 "
        "and 48",
        less="12: no quicker, since more arcs are refined",
        more="48: a quarter longer",
    )
    zoom: int = tuned(
        4,
        "Parts into which the arc around a sample is cut each time it is looked at more closely.",
        chosen="measured: 2 and 8 take 5 to 7 % longer; gaps agree to 2e-5 of their size",
        less="more rounds of looking closer",
        more="more points in each round",
    )
    coarse_points: int = tuned(
        16,
        "Points of a near ring that a first, coarse test of an approach looks at.",
        chosen="measured: 32 take twice as long and change nothing, 8 save 1 %",
        less="more approaches go on to the exact test",
        more="more work for approaches that are clear anyway",
    )
    rings_at_once: int = tuned(
        3,
        "Near rings tested together; approaches that hit one are not tested against the rest.",
        chosen="measured: 2 take 16 % longer, 6 take 88 % longer",
        less="more calls for the same work",
        more="approaches that have hit a ring are tested against further ones",
    )
    enough_mm: float = tuned(
        0.6,
        "Clearance beyond which more is worth nothing when approaches are compared. [mm]",
        chosen="judgement: half a millimetre is what a steady hand needs; more buys other goods",
        less="0.3: clearance 10 % less in Persian, gap about the same",
        more="1.2: clearance 20 % more in Byzantine, and a tenth to a quarter longer to search",
    )
    beside_cosine: float = tuned(
        0.5,
        "A wire within this cosine (60°) of the wire's own direction lies beside the join.",
        chosen="judgement: 45° each way of square, rounded out; no piece measured changes with it",
        less="0.25: wires that cross count as beside the join",
        more="1.0: no wire ever does",
    )
    spot_weight: float = tuned(
        2.0,
        "Worth of air between join and next wire, each molten spot's radius, up to two.",
        chosen="judgement: a spot that reaches its neighbour fuses two rings, the worst that "
        "can go wrong, so it weighs most; measured beside it",
        less="1.0: gap 8 % less in Jens Pind, 13 % in Persian",
        more="4.0: gap 16 % more in Jens Pind for 9 % less clearance",
    )
    spot_more: float = tuned(
        0.02,
        "Worth of each further spot's radius of air.",
        chosen="judgement: far below the first two, so that it decides only between equals",
        less="0.01: gap 8 % less in Jens Pind, 13 % in Persian",
        more="0.04: gap 3 % more in Jens Pind",
    )
    clearance_weight: float = tuned(
        1.0,
        "Worth of clearance, at ``enough_mm`` and above.",
        chosen="judgement: the unit of the scores; measured, half and twice change clearance by "
        "1 %",
        less="0.5: within 0.3 %",
        more="2.0: clearance 1 % more in Byzantine",
    )
    arc_weight: float = tuned(
        0.5,
        "Worth of free angles on both sides of a join: it may slip along its ring.",
        chosen="judgement: half a clearance; measured, half and twice change no piece",
        less="a join that slips a little may come to lie where nothing reaches it",
        more="joins drift to the middle of free arcs",
    )
    arc_steps: int = tuned(
        3,
        "Angles on each side that count for that.",
        chosen="judgement: 30°, as far as a loose ring turns unnoticed",
        less="2: no piece measured changes",
        more="6: clearance 2 % more in Jens Pind, gap 17 % less in Persian",
    )
    edge_weight: float = tuned(
        0.5,
        "Worth of lying on a block against being held in the air.",
        chosen="judgement: half a clearance; measured, half and twice change no piece",
        less="more joins at the edges, which cost a turn of the piece",
        more="joins on the faces even where they are hard to see",
    )
    lean_weight: float = tuned(
        0.5,
        "Worth of an upright electrode against a level one.",
        chosen="judgement: half a clearance: an upright tip is seen best",
        less="0.25: clearance and gap 1 % more",
        more="1.0: clearance 5 % less in Persian",
    )
    inward_weight: float = tuned(
        0.5,
        "Loss for touching the wire from inside its ring.",
        chosen="judgement: the tip must pass through the ring, which hides the join",
        less="0.25: within 0.6 %",
        more="1.0: within 0.5 %",
    )
    top_weight: float = tuned(
        0.4,
        "Worth of a join on the side of the ring that is seen.",
        chosen="judgement: below an upright electrode's, which is what the eye is for",
        less="0.2: gap 10 % more in Jens Pind, joins further down the ring",
        more="0.8: gap 8 % less in Jens Pind, 13 % in Persian",
    )
    two_sides_weight: float = tuned(
        4.0,
        "Worth of reaching the same join from the wire's other side, for heavy wire.",
        chosen="judgement: more than all the others can make up for, since without it the wire "
        "does not weld through",
        less="2.0: no piece measured changes; below 1 other goods would win",
        more="nothing: it decides already",
    )
    tie_weight: float = tuned(
        1e-3,
        "Worth of a join further to one side, so that of equal joins it is always the same.",
        chosen="judgement: far below any other weight, far above rounding",
        less="0.0005: clearance within 0.2 %",
        more="0.002: no piece measured changes",
    )
    better_face: float = tuned(
        0.25,
        "How much better another face's join must be before a ring leaves the first face.",
        chosen="judgement: a quarter of a clearance; a face more costs a turn of the whole piece",
        less="0.125: no piece measured changes; more faces for little",
        more="0.5: no piece measured changes; poorer joins for the sake of one face",
    )
    block_rings: int = tuned(
        1500,
        "Most rings that one integer programme for rings closed beforehand takes.",
        chosen="judgement: the programme's time grows steeply; cuts lose at most two rings each",
        less="more cuts, each of which may lose two rings of the set",
        more="longer programmes; above a few thousand rings they end at ``node_limit``",
    )
    most_blocks: int = tuned(
        24,
        "Most different blocks that are solved; further ones count with their clique cover.",
        chosen="judgement: regular pieces have one or two kinds of block, so few ever need it",
        less="an irregular piece gets a looser bound",
        more="an irregular piece takes longer",
    )
    node_limit: int = tuned(
        200,
        "Most branches of one integer programme: a count, so that a plan repeats exactly.",
        chosen="judgement: the pieces measured are proved with fewer; half and twice change "
        "nothing",
        less="a set may be left unproved",
        more="a hard block takes longer",
    )
    same_lean: float = tuned(
        1e-4,
        "Normals of one class of rings agree to this.",
        chosen="judgement: solved repeats are tiled to rounding; far above it, far below a degree",
        less="rings that are alike fall into classes of their own and are searched again",
        more="rings that lean differently share one search",
    )
    same_place: float = tuned(
        1e-6,
        "Rings that differ by less in place, lean and size are one ring. [mm]",
        chosen="judgement: rounding of places of some hundred mm is 1e-13 of them",
        less="a ring may be missed for rounding",
        more="nothing until two rings lie so near, which no wire allows",
    )
    same_mm: float = tuned(
        0.05,
        "A ring this near to where one is looked for is that ring. [mm]",
        chosen="judgement: the thinnest wire lies several times as far apart; measured, half "
        "and twice change nothing",
        less="places that a measured pitch has stretched are missed",
        more="the wrong ring may be found in very thin wire",
    )
    slides: int = tuned(
        8,
        "Different slides of the row groups that are told apart at the ends of a sheet.",
        chosen="judgement: sheets of the library have one to four; measured, 4 and 16 change "
        "nothing",
        less="rings at a slanting end share a search though their neighbours differ",
        more="more classes to search at the ends",
    )


tuning = Tunable(JoinTuning())
