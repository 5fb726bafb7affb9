"""How patterns are chosen from, and how long freer orders are searched for."""

from __future__ import annotations

from dataclasses import field

from chainplan.frozen import frozen
from chainplan.model.tuning import tuned


@frozen
class Effort:
    """How much is tried. Counts, not seconds, so that the same input gives the same plan."""

    patterns: int = tuned(
        40,
        "Patterns of a kind that are timed.",
        chosen="judgement: a sample job plans within some seconds",
        less="20: the same",
        more="80: the same",
    )
    rounds: int = tuned(
        24,
        "Rounds of the local search at most.",
        chosen="judgement: the first rounds win most; the yardstick needs no last per cent",
        less="12: bracelet: freer order +2.0 %; chain with a stone: freer order +1.1 %; strip: "
        "freer order +0.3 %",
        more="48: bracelet: freer order −0.5 %",
    )
    batch: int = tuned(
        32,
        "Moves timed side by side in a round.",
        chosen="judgement: enough to share numpy's overhead",
        less="16: chain with a stone: freer order −0.6 %; strip: freer order −0.3 %",
        more="64: bracelet: freer order +1.9 %; strip: freer order +1.3 %; chain with a stone: "
        "freer order +0.5 %",
    )
    states: int = tuned(
        250000,
        "Waits that the exact search asks for before it gives up.",
        chosen="measured: silver and copper chains of twelve rings in the fingers take 90000, held "
        "on both sides 200000: one to three seconds",
        less="75000: chains of twelve rings in the fingers are not proved",
        more="1000000: a strip of fifteen rings is still not proved, after 14 s; memory grows to "
        "half a gigabyte",
    )
    exact: int = tuned(
        12,
        "Up to so many joins all orders are looked at, if the states are enough.",
        chosen="judgement: longer pieces are rarely proved within those looks",
        less="6: the same",
        more="24: the same",
    )
    greedy: int = tuned(
        2,
        "Starts of the greedy order, halved.",
        chosen="judgement: a few starts that differ are enough for a yardstick",
        less="1: the same",
        more="4: the same",
    )
    held: int = tuned(
        80000,
        "Rounds of the search that sees the fingers, times joins, times nodes.",
        chosen="judgement: some seconds of asking for the fingers",
        less="40000: chain with a stone: freer order +1.1 %; strip: freer order +0.3 %",
        more="160000: chain with a stone: freer order −0.6 %",
    )


@frozen
class SearchTuning:
    """How patterns are chosen from, and how long freer orders are searched for."""

    usual: Effort = field(default_factory=Effort)
    """How much is tried unless more is asked for."""
    thorough: Effort = tuned(
        Effort(patterns=80, rounds=400, batch=64, states=1000000, exact=14, greedy=6, held=4000000),
        "How much is tried with ``--effort thorough``.",
        chosen="judgement: minutes instead of seconds, for a piece that will be made many times",
        less="half of each: the orders of the usual effort are seldom beaten",
        more="twice of each: minutes a piece",
    )
    nearly: float = tuned(
        0.005,
        "Bench times closer than this share count as equal; then the cooler order wins.",
        chosen="judgement: far below what a hand's pace varies; 0 always takes the quickest, "
        "however warm",
        less="0.0025: the same",
        more="0.01: the same",
    )
    a_thing_s: float = tuned(
        15.0,
        "What each thing to keep in mind (a start, a rule, a list) counts when orders are chosen.",
        chosen="judgement: finding where a pass begins and counting on takes some ten seconds, and"
        " now and then the place is lost; 0 takes the quickest however hard to follow, 60 mostly "
        "end to end. Half of it takes three passes more for 27 s, 9 s each: less than finding "
        "where they begin",
        less="7.5: chain with a stone: 8 instead of 5 passes; chain with a stone: freer order "
        "−4.3 %; chain with a stone: bench time −4.0 %",
        more="30.0: chain with a stone: 3 instead of 5 passes; chain with a stone: bench time "
        "+7.7 %; chain with a stone: freer order +6.0 %",
    )
    as_cool_k: float = tuned(
        2.0,
        "Differences in warmth below this do not decide between nearly equal orders; words do "
        "then.",
        chosen="judgement: far below the doubt of the heat model",
        less="1: the same",
        more="4: the same",
    )
    a_word: int = tuned(
        2,
        "What one more rule to keep in mind weighs, in passes.",
        chosen="judgement: a rule is looked up about as often as two passes begin",
        less="1: the same",
        more="4: bracelet: bench time +47.0 %; strip: bench time +5.6 %; strip: freer order +14.0 "
        "%",
    )
    most_alone: int = tuned(
        8,
        "Joins near a part that may be welded singly between passes.",
        chosen="judgement: each is a line",
        less="4: the same",
        more="16: the same",
    )
    near_share: float = tuned(
        0.2,
        "Share of what a part can bear from which its weld counts as near.",
        chosen="judgement: five such welds at once reach what the part can bear",
        less="0.1: the same",
        more="0.4: the same",
    )
    many: int = tuned(
        250,
        "Up to so many joins patterns are also tried from the other end and in other orders of"
        " their passes.",
        chosen="measured: a copper bracelet of 28 joins went from 7.5 to 6.8 min, a chain of 188 "
        "from 22.3 to 21.0; on longer pieces it gained nothing",
        less="125: the same",
        more="500: the same",
    )
    richer: int = tuned(
        4,
        "So many times the patterns there.",
        chosen="judgement: that many ways there are of each",
        less="2: strip: bench time −12.0 %; strip: 7 instead of 1 passes; strip: freer order +1.7 "
        "%",
        more="8: the same",
    )
    laid_out: int = tuned(
        4_000_000,
        "Joins of all patterns of a large piece together.",
        chosen="judgement: bounds memory to some 30 MB",
        less="2000000: the same",
        more="8000000: the same",
    )
    fewest_patterns: int = tuned(
        6,
        "Patterns tried even on the largest piece.",
        chosen="judgement: rows, columns and a few strides",
        less="3: the same",
        more="12: the same",
    )
    most_searched: int = tuned(
        150,
        "Up to so many joins every pattern is timed with the fingers, and freer orders are "
        "searched from several starts.",
        chosen="judgement: above, a sample of the places to hold ranks them",
        less="75: the same",
        more="300: the same",
    )
    most_sampled: int = tuned(
        80,
        "Steps at which the fingers are sampled to rank patterns.",
        chosen="judgement: fewer rank worse",
        less="40: the same",
        more="160: the same",
    )
    seconds_a_kelvin: float = tuned(
        0.5,
        "Ranks only: what one step one kelvin too warm to hold costs in the end.",
        chosen="judgement: only the ranking hangs on it, and that is timed afterwards",
        less="0.25: the same",
        more="1: the same",
    )
    at_once: int = tuned(
        8,
        "Orders timed side by side.",
        chosen="judgement: more share numpy's overhead and waste more",
        less="4: the same",
        more="16: the same",
    )
    room: float = tuned(
        1.5,
        "A pattern is given up at so many times the best of a few.",
        chosen="judgement: what the fingers add",
        less="1.25: the same",
        more="2: the same",
    )
    close: float = tuned(
        1.05,
        "First try: orders are given up at so many times the best promise.",
        chosen="judgement: one corner's promise is rarely further off; too small only repeats the "
        "round",
        less="1.025: the same",
        more="1.1: the same",
    )
    rise: float = tuned(
        1.25,
        "By how much that is raised when no order keeps to it.",
        chosen="judgement: a few tries reach any order, and none overshoots by more than a quarter",
        less="1.125: strip: bench time −7.3 %; strip: freer order −11.0 %; strip: 6 instead of 1 "
        "passes",
        more="1.5: the same",
    )
    most_rises: int = tuned(
        10,
        "How often: up to nine times the promise.",
        chosen="judgement: up to nine times the promise; no pattern worth having is beyond",
        less="5: the same",
        more="20: the same",
    )
    worth_ranking: float = tuned(
        1.1,
        "Held orders are timed to so many times the best one.",
        chosen="judgement: what is a tenth slower is not chosen for being cooler",
        less="1.05: strip: bench time −12.0 %; strip: freer order −11.0 %; strip: 7 instead of 1 "
        "passes",
        more="1.2: the same",
    )
    worth_its_own: float = tuned(
        0.02,
        "Joins of one face and setting get a pattern of their own where they wait for this "
        "share of the bench time.",
        chosen="judgement: a further rule to keep in mind must pay",
        less="0.01: the same",
        more="0.04: the same",
    )
    few_joins: int = tuned(
        24,
        "Up to so many joins an order may be listed ring by ring.",
        chosen="judgement: four lines of six",
        less="12: the same",
        more="48: the same",
    )
    worth_listing: float = tuned(
        0.05,
        "Share of the bench time that such a list must save.",
        chosen="judgement: a list is harder to follow than a pattern",
        less="0.025: the same",
        more="0.1: the same",
    )
    fewest_rounds: int = tuned(
        4,
        "Rounds of local search on a small piece at least.",
        chosen="judgement: even the smallest piece gets a few",
        less="2: the same",
        more="8: the same",
    )
    worth_restarts: float = tuned(
        0.05,
        "Share of the bound by which the free order of a few joins, too many for the exact search, "
        "must be above it to be searched for anew.",
        chosen="judgement: the goal for long chains",
        less="0.025: the same",
        more="0.1: the same",
    )
    restarts: int = tuned(
        10,
        "Orders drawn at random near which it is then searched for.",
        chosen="measured: a charm of 13 joins goes from 150 to 146 s in 3 s of the processor; "
        "sixty orders find 144",
        less="5: the same",
        more="20: the same",
    )
    restart_rounds: int = tuned(
        150,
        "Rounds of local search near each.",
        chosen="measured: on that charm more rounds of fewer orders find more in the same time",
        less="75: the same",
        more="300: the same",
    )
    restart_batch: int = tuned(
        16,
        "Orders tried in each of those rounds.",
        chosen="measured: as above",
        less="8: the same",
        more="32: the same",
    )
    beside_s_k: float = tuned(
        0.2,
        "Seconds that a kelvin less is worth in the greedy order of a long piece.",
        chosen="judgement: towards the way, which is most of a long piece",
        less="0.1: the same",
        more="0.4: the same",
    )
    greedy_s_k: tuple[float, ...] = tuned(
        (0.5, 0.05, 1.0, 0.1, 0.2, 2.0),
        "The same on small pieces, one order each.",
        chosen="judgement: from heat alone to way alone",
        less="half of each: strip: freer order +9.8 %",
        more="twice of each: chain with a stone: freer order −12.0 %",
    )
    by_fingers: float = tuned(
        1.05,
        "The greedy order that does not see the fingers is tried where they cost less than this.",
        chosen="judgement: else it cannot be held",
        less="1.025: the same",
        more="1.1: the same",
    )
    near: int = tuned(
        24,
        "Nearest joins that the greedy order looks at.",
        chosen="judgement: the others are too far a way",
        less="12: strip: freer order +14.0 %; chain with a stone: freer order −12.0 %",
        more="48: chain with a stone: freer order −12.0 %; strip: freer order +11.0 %",
    )
    most_asked: int = tuned(
        8,
        "Of those, so many are asked for a wait.",
        chosen="judgement: waits cost most of the time",
        less="4: strip: freer order +10.0 %; chain with a stone: freer order −0.2 %",
        more="16: strip: freer order +7.1 %; chain with a stone: freer order −0.6 %",
    )
    beside_waits: float = tuned(
        0.5,
        "Share of moves that take hold of a step that waits.",
        chosen="judgement: waits are what can be won",
        less="0.25: chain with a stone: freer order −5.2 %; strip: freer order −2.9 %",
        more="1: strip: freer order −11.0 %; chain with a stone: freer order −4.0 %",
    )
    most_late: float = tuned(
        0.75,
        "Latest beginning of the stretch that a round changes, as a share of the order.",
        chosen="judgement: later ones cost less to time and gain less",
        less="0.5: strip: freer order −1.5 %; chain with a stone: freer order −1.4 %; bracelet: "
        "freer order −0.6 %",
        more="0.875: chain with a stone: freer order +4.9 %",
    )
    move_reach: int = tuned(
        25,
        "Steps within which most moves swap or turn.",
        chosen="judgement: far moves mostly cost way",
        less="12: chain with a stone: freer order −1.4 %; strip: freer order +0.7 %",
        more="50: chain with a stone: freer order −0.8 %; strip: freer order −0.5 %",
    )
    far_moves: float = tuned(
        0.35,
        "Share of moves with any other step instead.",
        chosen="judgement: without them it stays where it is",
        less="0.175: strip: freer order −1.2 %; chain with a stone: freer order +0.3 %",
        more="0.7: strip: freer order −1.6 %; chain with a stone: freer order +0.8 %",
    )
    chunk: int = tuned(
        500,
        "Beginnings that the exact search asks at once.",
        chosen="measured: 4000 take twice as long, since their states no longer stay in the "
        "processor's cache",
        less="250: the same",
        more="1000: the same",
    )
    first_width: int = tuned(
        100,
        "Beginnings of each length that its first, incomplete pass keeps.",
        chosen="judgement: a better order to beat prunes the complete pass",
        less="50: the same",
        more="200: the same",
    )
    most_descents: int = tuned(
        40,
        "Rounds in which the best of all single moves is taken, of pieces with few joins.",
        chosen="judgement: it ends after four to seven rounds where nothing helps any more",
        less="20: the same",
        more="80: the same",
    )
    few_best: int = tuned(
        16,
        "Up to so many joins the free order comes from single moves and the first pass.",
        chosen="judgement: sets of more joins take a second to list",
        less="8: a charm of thirteen joins takes four times as long for the same order",
        more="24: the sets alone take gigabytes",
    )
    most_left: int = tuned(
        5,
        "Joins left that the exact search goes through all sets of, for its bound.",
        chosen="measured: 6 rules more beginnings out and takes half as long again on chains of "
        "twelve rings in the fingers",
        less="4: the same",
        more="6: the same",
    )
    grouped: int = tuned(
        4,
        "Beginnings bounded together where five joins are left; so many times more for each more.",
        chosen="judgement: going through one join more costs three to four times as much",
        less="2: the same",
        more="8: the same",
    )
    groups: int = tuned(
        64,
        "Such groups bounded at once.",
        chosen="judgement: their heat stays in the processor's cache",
        less="32: the same",
        more="128: the same",
    )
    most_checks: int = tuned(
        4,
        "How often the simulation may send an order back.",
        chosen="judgement: margins grow each time",
        less="2: the same",
        more="8: the same",
    )
    most_reserves: int = tuned(
        8,
        "How often an order is chosen anew for a reserve in chance.",
        chosen="judgement: each time what lacks is kept back besides; two or three are mostly "
        "enough",
        less="4: the same",
        more="16: the same",
    )
    least_reserve_k: float = tuned(
        0.25,
        "Kept back each time beyond what lacks.",
        chosen="judgement: less than anybody reads, so that the last samples do not take a round "
        "each",
        less="0.125: the same",
        more="0.5: the same",
    )
    most_margin_k: float = tuned(
        2.0,
        "Most that one objection adds to a margin.",
        chosen="judgement: a larger one is no rounding",
        less="1: the same",
        more="4: the same",
    )
