"""Which patterns are worth trying."""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import tuned


@frozen
class PatternTuning:
    """Which patterns are worth trying."""

    run_strides: tuple[int, ...] = tuned(
        (1, 2, 3, 4, 5, 6),
        "Strides inside a run.",
        chosen="judgement: beyond six a run is as long as the reach of the fingers",
        less="(1, 1, 2, 2, 2, 3): the same",
        more="(2, 4, 6, 8, 10, 12): long chain: 4 instead of 3 passes; long chain: freer order "
        "+5.8 %; long chain: bench time +5.8 %",
    )
    run_counts: tuple[int, ...] = tuned(
        (2, 3, 4, 6),
        "Joins of a run.",
        chosen="measured: runs took a Byzantine chain of 456 joins at 8 J from 46 to 42 min "
        "against a bound of 38, at 12 J from 53 to 43. Longer runs warm their own end",
        less="(1, 2, 2, 3): the same",
        more="(4, 6, 8, 12): long chain: freer order +12.5 %; long chain: bench time +12.5 %; "
        "chain with a stone: 3 instead of 5 passes",
    )
    shares_unheld: tuple[int, ...] = tuned(
        (2, 3),
        "Shares of the runs welded in turn where no fingers hold.",
        chosen="judgement: more is more ways",
        less="(1, 2): the same",
        more="(4, 6): the same",
    )
    runs_for_each: int = tuned(
        3,
        "So many runs are kept for each plain pattern.",
        chosen="judgement: they are many, and quick to time since few are quick; fewer lose good "
        "ones among them, more cost time in proportion",
        less="2: the same",
        more="6: the same",
    )
    line_strides: tuple[int, ...] = tuned(
        (*range(1, 13), 14, 16, 18, 20),
        "Strides along a line.",
        chosen="judgement: more than twenty passes along a chain tire the eye",
        less="(1, 1, 2, 2, 2, 3, 4, 4, 4, 5, 6, 6, 7, 8, 9, 10): the same",
        more="(2, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 28, 32, 36, 40): the same",
    )
    sheet_strides: tuple[int, ...] = tuned(
        (1, 2, 3, 4, 5, 6, 7),
        "Strides along the rows of a sheet.",
        chosen="judgement: a row is counted with the eye",
        less="(1, 1, 2, 2, 2, 3, 4): strip: bench time +8.6 %; strip: freer order +7.1 %; strip:"
        " 6 instead of 7 passes",
        more="(2, 4, 6, 8, 10, 12, 14): strip: bench time +8.6 %; strip: freer order +7.1 %; "
        "strip: 6 instead of 7 passes",
    )
    sheet_classes: tuple[int, ...] = tuned(
        (1, 2, 3, 5),
        "Into how many passes rows are dealt.",
        chosen="judgement: rows are counted with the eye",
        less="(1, 1, 2, 2): the same",
        more="(2, 4, 6, 10): strip: bench time +17.9 %; strip: freer order +16.8 %; strip: 3 "
        "instead of 7 passes",
    )
    diagonals: tuple[int, ...] = tuned(
        (2, 3, 5, 7),
        "Strides of diagonals.",
        chosen="judgement: primes do not fall in step with rows and columns",
        less="(1, 2, 2, 4): the same",
        more="(4, 6, 10, 14): the same",
    )
    blocks_strides: tuple[int, ...] = tuned(
        (3, 5),
        "Strides also tried in two blocks.",
        chosen="judgement: only long pieces, for half the travel",
        less="(2, 2): the same",
        more="(6, 10): the same",
    )
    home_shares: tuple[float, ...] = tuned(
        (0.0, 0.25, 0.5, 1.0),
        "How far into the reach of the fingers the units welded ahead go, as shares of it.",
        chosen="measured: they took a copper bracelet of 28 joins from 5.6 to 4.7 min",
        less="(0.0, 0.125, 0.25, 0.5): the same",
        more="(0.0, 0.5, 1.0, 2.0): the same",
    )
    home_passes: int = tuned(
        6,
        "Passes at most of patterns that weld units ahead.",
        chosen="judgement: each begins with a few of its own, which doubles the lines",
        less="3: the same",
        more="12: the same",
    )
    blocks_units: int = tuned(
        24,
        "Units a stride that two blocks are worth.",
        chosen="judgement: below, the way saved is shorter than the words that tell it",
        less="12: the same",
        more="48: the same",
    )
