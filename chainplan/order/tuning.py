"""Numbers that trade time of the processor against how good an order is, and words against space.

Each says what was measured when it was chosen, or that it is judgement, and what happens on either
side. ``tests/bench/bench_order.py --set search.nearly=0.01`` measures a choice again. Numbers that
mean something at the bench or in a proof are no tuning; they stand where they are used.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, kw_only=True)
class ClockTuning:
    """How heat is reckoned behind the planner."""

    most_exact_joins: int = 1200
    """Judgement: the longest piece that goes weld by weld through the network's own modes. The cost
    of that grows with joins times nodes; more makes middling pieces slow, fewer takes the search,
    the cooling bound and shortest waits from pieces that could have them."""
    most_exact_nodes: int = 2000
    """Set by the heat stage, which solves no larger network exactly; fewer only loses accuracy."""
    fine_nodes: int = 150
    """Up to so many nodes states are double, beyond single precision. Measured in a test: single
    adds at most 0.01 K on a chain of 200. Higher costs time on long chains, lower gains none."""
    margin_k: float = 0.02
    """Kept back from every limit by the exact clock, for looking at parts at some instants only and
    for rounding. Judgement: less, and the simulation sends more orders back; more costs waiting."""
    summed_margin_k: float = 0.2
    """The same by summed kernels, whose table is read between samples. Measured in a test: sums are
    within 0.3 K of the exact network in 72 welds. Less sends orders back, more costs waiting."""
    tail_share: float = 1e-3
    """A weld counts as no longer felt when its slowest mode has fallen to this share. Judgement:
    smaller lengthens every table, larger makes the longest wait too short for tight limits."""
    longest_s: float = 2e4
    """No weld is followed for longer. Judgement: five and a half hours are more than a piece needs
    to cool; it only bounds tables of pieces that hardly lose heat."""
    most_samples: int = 600
    """Even samples of a kernel for the lower bound. Judgement: fewer loosen the bound, since the
    smaller neighbour is taken; more cost time in proportion."""
    peak_samples: int = 72
    """Moments, even in log time, at which one weld's peak at a node is looked for. Judgement: fewer
    may miss a peak by a share of a kelvin, more cost time in proportion."""
    later_s: tuple[float, ...] = (0.0, 0.3, 1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 120.0)
    """Lags after each weld at which parts are read for the chart. Judgement: fewer flatten peaks;
    more cost time in proportion. A test holds the chart's peak to within 1 K of the limit table."""
    most_waits: int = 1000
    """Up to so many whole seconds all are tried as waits. Judgement: beyond, waits grow by
    ``longer`` and nothing counts as proved."""
    longer: float = 1.25
    """Growth from one wait tried to the next where not all are. Judgement: larger steps are halved
    back to seconds anyway, but may jump over the first moment that a part allows."""
    steps_at_once: int = 96
    """Steps of all orders together that are followed before the limits are asked. Measured on the
    sample fair: 24 takes a fifth longer; more throws away more work where a wait comes between."""
    least_ahead: int = 8
    """So many steps are followed first, and twice as many each time no wait comes between.
    Judgement: waits come early in orders that wait often."""
    waits_together: int = 8
    """Waits that are tried together at first. Judgement: most waits are of a few seconds."""
    first_at_once: int = 4
    """Waits of each join of a small piece that are asked together first. Measured: with 1 a quarter
    slower on the sample bracelets; most waits are of a few seconds."""
    most_at_once: int = 64
    """Waits asked together at most. Judgement: fewer turns of the loop against work thrown away."""
    ahead_s: int = 30
    """For so many seconds after a weld parts are looked at each second. Judgement: a clasp next to
    the join is warmest within half a minute; shorter misses peaks, longer costs memory."""
    soon_s: tuple[float, ...] = (0.15, 0.3, 0.6)
    """Moments before the first of those at which parts are looked at too. Judgement: the spot of a
    stone that a welded ring touches is warmest after some tenths of a second; unseen, margins grow
    until limits seem impossible that a wait keeps."""
    ahead_samples: int = 40
    """Moments after that, evenly spread in log time. Judgement, as ``ahead_s``."""
    neglected: float = 0.01
    """Welds that together bring a part less than this share of its cap are not followed one by
    one, and their sum is kept back. Judgement: larger costs waiting, smaller time."""
    forward_joins: int = 5000
    """Up to so many joins the summed clock puts waits in one after another, each the shortest that
    will do, as the exact clock does. Judgement: that costs some milliseconds a join and order;
    above, all joins that are too warm are put off at once, which waits up to twice as long."""
    waits_s: tuple[float, ...] = (2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 512.0)
    """Waits that the summed clock puts before joins that are too warm, all at once. Judgement:
    closer steps wait less in all and need more looks, each over the whole piece."""
    wait_rounds: int = 6
    """Rounds in which those waits are put in. Judgement: the second catches nearly all that the
    first has shifted; more than six never helped where an even pace did not."""
    halvings: int = 8
    """Halvings of the even pace: it is then known to a 256th of its first step. Judgement."""
    slowest_s: float = 600.0
    """Longest extra wait before every join that is tried. Judgement: ten minutes a join is no plan;
    a lower number would call limits impossible that patience can keep."""
    slower: float = 1.3
    """Growth of the extra wait while the pace is slowed for the fingers. Judgement: larger steps
    overshoot by up to 30 %, smaller ones need more looks at the fingers."""
    part_samples: int = 60
    """Moments after each near weld at which the summed clock reads a part. Judgement: fewer may
    miss a peak; the simulation would then send the order back."""
    followed_s: float = 120.0
    """How long after a weld it reads them. Judgement: a part touching a welded ring is warmest
    within two minutes."""
    sampled_steps: int = 3000
    """Steps of an order that are looked at before all are. Judgement: on pieces beyond that size a
    pattern that is too warm anywhere is too warm at many steps."""
    held_steps: int = 20
    """Steps at which the fingers are looked at before all are. Judgement: enough to throw out
    patterns that keep the warm ring between the fingers throughout."""
    suspects: int = 200
    """Joins too warm in one pattern that are looked at first in the next. Judgement."""
    shares: int = 8
    """Shares of all steps looked at in turn, so that a pattern can fail early. Judgement."""
    settled_joins: int = 1_000_000
    """Joins of all patterns together that the summed clock times to the end before it chooses.
    Judgement: more offers more patterns to the choice of a cool and plain one, at seconds each."""


@dataclass(frozen=True, kw_only=True)
class PatternTuning:
    """Which patterns are worth trying."""

    run_strides: tuple[int, ...] = (1, 2, 3, 4, 5, 6)
    """Strides inside a run. Judgement: beyond six a run is as long as the reach of the fingers."""
    run_counts: tuple[int, ...] = (2, 3, 4, 6)
    """Joins of a run. Measured: runs took a Byzantine chain of 456 joins at 8 J from 46 to 42 min
    against a bound of 38, at 12 J from 53 to 43. Longer runs warm their own end."""
    shares_unheld: tuple[int, ...] = (2, 3)
    """Shares of the runs welded in turn where no fingers hold. Judgement: more is more ways."""
    runs_for_each: int = 3
    """So many runs are kept for each plain pattern. Judgement: they are many, and quick to time
    since few are quick; fewer lose good ones among them, more cost time in proportion."""
    line_strides: tuple[int, ...] = (*range(1, 13), 14, 16, 18, 20)
    """Strides along a line. Judgement: more than twenty passes along a chain tire the eye."""
    sheet_strides: tuple[int, ...] = (1, 2, 3, 4, 5, 6, 7)
    """Strides along the rows of a sheet. Judgement: a row is counted with the eye."""
    sheet_classes: tuple[int, ...] = (1, 2, 3, 5)
    """Into how many passes rows are dealt. Judgement, as above."""
    diagonals: tuple[int, ...] = (2, 3, 5, 7)
    """Strides of diagonals. Judgement: primes do not fall in step with rows and columns."""
    blocks_strides: tuple[int, ...] = (3, 5)
    """Strides also tried in two blocks. Judgement: only long pieces, for half the travel."""
    home_shares: tuple[float, ...] = (0.0, 0.25, 0.5, 1.0)
    """How far into the reach of the fingers the units welded ahead go, as shares of it. Measured:
    they took a copper bracelet of 28 joins from 5.6 to 4.7 min."""
    home_passes: int = 6
    """Passes at most of patterns that weld units ahead. Judgement: each begins with a few of its
    own, which doubles the lines."""
    blocks_units: int = 24
    """Units a stride that two blocks are worth. Judgement."""


@dataclass(frozen=True, kw_only=True)
class Effort:
    """How much is tried. Counts, not seconds, so that the same input gives the same plan."""

    patterns: int
    """Patterns of a kind that are timed."""
    rounds: int
    """Rounds of the local search at most."""
    batch: int
    """Moves timed side by side in a round."""
    states: int
    """Looks of the exact search before it gives up."""
    exact: int
    """Up to so many joins all orders are looked at, if the states are enough."""
    greedy: int
    """Starts of the greedy order, halved."""
    held: int
    """Rounds of the search that sees the fingers, times joins, times nodes."""


@dataclass(frozen=True, kw_only=True)
class SearchTuning:
    """How patterns are chosen from, and how long freer orders are searched for."""

    usual: Effort = Effort(
        patterns=40, rounds=24, batch=32, states=150_000, exact=12, greedy=2, held=80_000
    )
    """Judgement: a sample job plans within a few seconds. Half as much loses minutes on copper
    bracelets (runs), twice as much gains little: see ``thorough``."""
    thorough: Effort = Effort(
        patterns=80, rounds=400, batch=64, states=1_000_000, exact=14, greedy=6, held=4_000_000
    )
    """Judgement: minutes instead of seconds, for a piece that will be made many times."""
    nearly: float = 0.005
    """Bench times closer than this share count as equal; then the cooler order wins. Judgement: far
    below what a hand's pace varies; 0 always takes the quickest, however warm."""
    a_thing_s: float = 15.0
    """What each thing to keep in mind (a start, a rule, a list) counts when orders are chosen.
    Judgement: finding where a pass begins and counting on takes some ten seconds, and now and then
    the place is lost; 0 takes the quickest however hard to follow, 60 mostly end to end."""
    as_cool_k: float = 2.0
    """Differences in warmth below this do not decide between nearly equal orders; words do then.
    Judgement: far below the doubt of the heat model."""
    a_word: int = 2
    """What one more rule to keep in mind weighs, in passes. Judgement."""
    most_alone: int = 8
    """Joins near a part that may be welded singly between passes. Judgement: each is a line."""
    near_share: float = 0.2
    """Share of what a part can bear from which its weld counts as near. Judgement."""
    many: int = 250
    """Up to so many joins patterns are also tried from the other end and in other orders of their
    passes. Measured: a copper bracelet of 28 joins went from 7.5 to 6.8 min, a chain of 188 from
    22.3 to 21.0; on longer pieces it gained nothing."""
    richer: int = 4
    """So many times the patterns there. Judgement: that many ways there are of each."""
    laid_out: int = 4_000_000
    """Joins of all patterns of a large piece together. Judgement: bounds memory to some 30 MB."""
    fewest_patterns: int = 6
    """Patterns tried even on the largest piece. Judgement: rows, columns and a few strides."""
    most_searched: int = 150
    """Up to so many joins every pattern is timed with the fingers, and freer orders are searched
    from several starts. Judgement: above, a sample of the places to hold ranks them."""
    most_sampled: int = 80
    """Steps at which the fingers are sampled to rank patterns. Judgement: fewer rank worse."""
    seconds_a_kelvin: float = 0.5
    """Ranks only: what one step one kelvin too warm to hold costs in the end. Judgement."""
    at_once: int = 8
    """Orders timed side by side. Judgement: more share numpy's overhead and waste more."""
    room: float = 1.5
    """A pattern is given up at so many times the best of a few. Judgement: what the fingers add."""
    close: float = 1.05
    """First try: orders are given up at so many times the best promise. Judgement: one corner's
    promise is rarely further off; too small only repeats the round."""
    rise: float = 1.25
    """By how much that is raised when no order keeps to it. Judgement."""
    most_rises: int = 10
    """How often: up to nine times the promise. Judgement."""
    worth_ranking: float = 1.1
    """Held orders are timed to so many times the best one. Judgement."""
    worth_its_own: float = 0.02
    """Joins of one face and setting get a pattern of their own where they wait for this share of
    the bench time. Judgement: a further rule to keep in mind must pay."""
    few_joins: int = 24
    """Up to so many joins an order may be listed ring by ring. Judgement: four lines of six."""
    worth_listing: float = 0.05
    """… where that saves this share. Judgement: a list is harder to follow than a pattern."""
    fewest_rounds: int = 4
    """Rounds of local search on a small piece at least. Judgement."""
    beside_s_k: float = 0.2
    """Seconds that a kelvin less is worth in the greedy order of a long piece. Judgement."""
    greedy_s_k: tuple[float, ...] = (0.5, 0.05, 1.0, 0.1, 0.2, 2.0)
    """The same on small pieces, one order each. Judgement: from heat alone to way alone."""
    by_fingers: float = 1.05
    """The greedy order that does not see the fingers is tried where they cost less than this.
    Judgement: else it cannot be held."""
    near: int = 24
    """Nearest joins that the greedy order looks at. Judgement: the others are too far a way."""
    most_asked: int = 8
    """… and of those that are asked for a wait. Judgement: waits cost most of the time."""
    beside_waits: float = 0.5
    """Share of moves that take hold of a step that waits. Judgement: waits are what can be won."""
    most_late: float = 0.75
    """Latest beginning of the stretch that a round changes, as a share of the order. Judgement:
    later ones cost less to time and gain less."""
    move_reach: int = 25
    """Steps within which most moves swap or turn. Judgement: far moves mostly cost way."""
    far_moves: float = 0.35
    """Share of moves with any other step instead. Judgement: without them it stays where it is."""
    chunk: int = 500
    """Beginnings that the exact search asks at once. Measured: 4000 take twice as long, since their
    states no longer stay in the processor's cache."""
    first_width: int = 100
    """Beginnings of each length that its first, incomplete pass keeps. Judgement: a better order
    to beat prunes the complete pass."""
    more_bare: int = 25
    """So many times the looks where no fingers hold, which go that much faster. A test holds
    what it buys: chains and strips of twelve are proved within the usual effort."""
    most_checks: int = 4
    """How often the simulation may send an order back. Judgement: margins grow each time."""
    most_reserves: int = 8
    """How often an order is chosen anew for a reserve in chance. Judgement: each time what lacks is
    kept back besides; two or three are mostly enough."""
    least_reserve_k: float = 0.25
    """Kept back each time beyond what lacks. Judgement: less than anybody reads, so that the last
    samples do not take a round each."""
    most_margin_k: float = 2.0
    """Most that one objection adds to a margin. Judgement: a larger one is no rounding."""


@dataclass(frozen=True, kw_only=True)
class ProofTuning:
    """How tight the lower bound is, and how closely the verifier looks."""

    most_tree_joins: int = 3000
    """Up to so many joins the shortest spanning tree is found in full. Judgement: its time grows
    with the square; above, each join's two nearest neighbours give a weaker bound."""
    most_assignment_joins: int = 48
    """Up to so many joins welds are dealt out to places exactly. Judgement: the time grows with the
    third power; above, each weld gets its own best lag, which is lower still."""
    looked_at: int = 300_000
    """Rings between the fingers, over all steps at which they are looked at, on large pieces.
    Measured: all steps of a chain of about 25 000 rings, since one likely patch of each step is
    looked at before all in reach."""
    lately_s: float = 90.0
    """Welds within this time before count against a place to hold. Judgement: a ring has lost most
    of its heat by then; which place is tried first decides about time alone."""
    fewest_steps: int = 40
    """Steps looked at even where that is more. Judgement."""
    all_steps_rings: int = 2000
    """Up to so many rings every step is looked at. Judgement: nothing is sampled needlessly."""
    cells_at_once: int = 4_000_000
    """Cells around steps that are looked up at once. Judgement: bounds memory to some 200 MB."""
    cooling_s: float = 300.0
    """How long after the last weld a part's worst moment is looked for. Judgement."""
    peak_times: int = 400
    """Moments of each look for it, ever closer. Judgement."""
    chance_runs: int = 2000
    """Samples of the uncertain numbers. Judgement: a share of 99 in 100 is then known to 0.2; they
    cost a few milliseconds, since they are read off a surface."""
    most_chance_nodes: int = 700
    """Rings and parts up to which chance is reckoned without asking for it. Measured: four more
    networks take 5 to 15 % of a plan's time there; their eigen-solutions grow with the cube."""


@dataclass(frozen=True, kw_only=True)
class SayTuning:
    """When something is worth a sentence."""

    most_traced: int = 300
    """Moments of a temperature chart. Judgement: more than a page can show."""
    digits: int = 6
    """Digits of a chart's temperatures. Judgement: what lies below depends on how a sum was split,
    and files should not."""
    most_compared: int = 10_000
    """Up to so many joins alternating ends and a random order are timed beside end to end, and a
    calm pace is looked for. Judgement: a sheet of 10 000 is planned within a minute."""
    most_asked_why: int = 3000
    """Waits of which the limit that asks for them is looked up. Judgement: more are an even pace,
    whose waits all have one reason."""
    little_share: float = 0.05
    """Savings below this share of the bench time are called little. Judgement: hands vary more."""
    little_s: float = 60.0
    """… and so are those below so many seconds. Judgement: a minute is no reason to count rings."""
    little_most: float = 0.2
    """… but never more than this share. Judgement: of a piece of two minutes half a minute is
    much where many are made."""
    close_s: float = 1.0
    """Times closer than this are called equal. Judgement: waits are whole seconds."""
    proved_gap: float = 1e-6
    """Share below which an order stands on its bound: rounding only."""
    gap: float = 0.10
    """Share above the bound from which the reason is told. Judgement."""
    warmer_k: float = 3.0
    """Kelvins from which a difference in warmth is told. Judgement: less is within the doubt."""
    held_share: float = 0.02
    """Share of the time from which the price of the fingers' limit is told. Judgement."""
    worth_a_word: float = 0.1
    """Share of the bench time spent waiting from which advice on it is given. Judgement."""
    clips_w_k: tuple[float, ...] = (0.005, 0.01, 0.02, 0.05, 0.1)
    """Heat sinks that are tried, as what they carry off. Judgement: from a paper clip's legs to a
    copper block held on; the smallest that does is told."""
    around_steps: int = 5
    """Links around a part that are solved for them. Judgement: heat reaches no further in time."""
    most_around: int = 300
    """… as long as these are no more nodes. Judgement: the eigen-solution stays below a second."""
    less_power: float = 0.8
    """Power that advice on waiting tries instead. Judgement: a fifth less often still closes."""
    less_waiting: float = 0.9
    """A change is told where it leaves less than this share of the waiting. Judgement."""

    def little_of(self, bench_s: float) -> float:
        """Seconds below which a saving is called little, on an order of so many. [s]."""
        return max(self.little_share * bench_s, min(self.little_s, self.little_most * bench_s))


@dataclass(frozen=True, kw_only=True)
class BatchTuning:
    """How far pieces of a batch are interleaved."""

    most_checked: int = 20_000
    """Joins of a piece up to which its interleaved times are simulated; larger ones are not
    interleaved. Judgement: a simulation a copy and corner."""
    most_stints: int = 200
    """Stints of a copy up to which it is put down in between. Judgement: more of them nobody
    follows."""
    worth_changes: float = 2.0
    """A wait is worth putting the piece down for from so many changes of piece on, and a stint is
    worth taking it up for. Judgement: one to put it down, one to take it up; fewer changes lose
    time, more leave waits idle."""


@dataclass(frozen=True, kw_only=True)
class OrderTuning:
    """All of them, by room."""

    clock: ClockTuning = field(default_factory=ClockTuning)
    """Reckoning heat."""
    pattern: PatternTuning = field(default_factory=PatternTuning)
    """Patterns worth trying."""
    search: SearchTuning = field(default_factory=SearchTuning)
    """Choosing and searching."""
    proof: ProofTuning = field(default_factory=ProofTuning)
    """Bound and verifier."""
    say: SayTuning = field(default_factory=SayTuning)
    """What is told."""
    batch: BatchTuning = field(default_factory=BatchTuning)
    """Interleaving."""


USUAL = OrderTuning()
"""What plans are made with."""
