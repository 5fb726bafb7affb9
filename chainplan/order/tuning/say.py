"""When something is worth a sentence."""

from __future__ import annotations

from chainplan.frozen import frozen
from chainplan.model.tuning import tuned


@frozen
class SayTuning:
    """When something is worth a sentence."""

    most_traced: int = tuned(
        300,
        "Moments of a temperature chart.",
        chosen="judgement: more than a page can show",
        less="150: the same",
        more="600: the same",
    )
    digits: int = tuned(
        6,
        "Digits of a chart's temperatures.",
        chosen="judgement: what lies below depends on how a sum was split, and files should not",
        less="3: the same",
        more="12: the same",
    )
    most_compared: int = tuned(
        10_000,
        "Up to so many joins alternating ends and a random order are timed beside end to end, "
        "and a calm pace is looked for.",
        chosen="judgement: a sheet of 10 000 is planned within a minute",
        less="5000: the same",
        more="20000: the same",
    )
    most_asked_why: int = tuned(
        3000,
        "Waits of which the limit that asks for them is looked up.",
        chosen="judgement: more are an even pace, whose waits all have one reason",
        less="1500: the same",
        more="6000: the same",
    )
    little_share: float = tuned(
        0.05,
        "Savings below this share of the bench time are called little.",
        chosen="judgement: hands vary more",
        less="0.025: the same",
        more="0.1: the same",
    )
    little_s: float = tuned(
        60.0,
        "Savings below so many seconds are called little too.",
        chosen="judgement: a minute is no reason to count rings",
        less="30: the same",
        more="120: the same",
    )
    little_most: float = tuned(
        0.2,
        "… but never more than this share.",
        chosen="judgement: of a piece of two minutes half a minute is much where many are made",
        less="0.1: the same",
        more="0.4: the same",
    )
    close_s: float = tuned(
        1.0,
        "Times closer than this are called equal.",
        chosen="judgement: waits are whole seconds",
        less="0.5: the same",
        more="2: the same",
    )
    proved_gap: float = tuned(
        1e-6,
        "Share below which an order stands on its bound: rounding only.",
        chosen="judgement: rounding only",
        less="5e-07: the same",
        more="2e-06: the same",
    )
    gap: float = tuned(
        0.10,
        "Share above the bound from which the reason is told.",
        chosen="judgement: less is within what hands differ",
        less="0.05: the same",
        more="0.2: bracelet: 6 instead of 7 sentences",
    )
    held_share: float = tuned(
        0.02,
        "Share of the time from which the price of the fingers' limit is told.",
        chosen="judgement: below, tweezers are not worth taking up",
        less="0.01: the same",
        more="0.04: the same",
    )
    worth_a_word: float = tuned(
        0.1,
        "Share of the bench time spent waiting from which advice on it is given.",
        chosen="judgement: waits of less than that nobody minds",
        less="0.05: bracelet: 11 instead of 7 sentences",
        more="0.2: the same",
    )
    clips_w_k: tuple[float, ...] = tuned(
        (0.005, 0.01, 0.02, 0.05, 0.1),
        "Heat sinks that are tried, as what they carry off.",
        chosen="judgement: from a paper clip's legs to a copper block held on; the smallest that "
        "does is told",
        less="half of each: the same",
        more="twice of each: the same",
    )
    around_steps: int = tuned(
        5,
        "Links around a part that are solved for them.",
        chosen="judgement: heat reaches no further in time",
        less="2: the same",
        more="10: the same",
    )
    most_around: int = tuned(
        300,
        "Nodes up to which they are solved.",
        chosen="judgement: the eigen-solution stays below a second",
        less="150: the same",
        more="600: the same",
    )
    less_power: float = tuned(
        0.8,
        "Power that advice on waiting tries instead.",
        chosen="judgement: a fifth less often still closes",
        less="0.6: the same",
        more="0.9: the same",
    )
    less_waiting: float = tuned(
        0.9,
        "A change is told where it leaves less than this share of the waiting.",
        chosen="judgement: a change must pay its trouble",
        less="0.8: the same",
        more="0.95: the same",
    )

    def little_of(self, bench_s: float) -> float:
        """Seconds below which a saving is called little, on an order of so many. [s]."""
        return max(self.little_share * bench_s, min(self.little_s, self.little_most * bench_s))
