"""Time at each station of the workshop, the welder apart."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import INVENTED, SLOW, setting


@dataclass(frozen=True, slots=True, kw_only=True)
class StationSettings:
    """Minutes and seconds at the stations of a practised hand; measure your own.

    They lean to the slow side of practice. Somebody new to the work takes two to three times as
    long, which is told beside them.
    """

    coil_min: float = setting(4.0, unit="min", means="wind one coil", source=SLOW, low=0, high=600)
    cut_s: float = setting(
        3.0, unit="s", means="cut one ring off a coil", source=SLOW, low=0, high=600
    )
    tumble_min: float = setting(
        6.0,
        unit="min",
        means="hands-on time to tumble a batch of rings",
        source=SLOW,
        low=0,
        high=600,
    )
    tumble_rings: int = setting(
        2000, means="rings that go into the tumbler at once", source=INVENTED, low=1, high=10000000
    )
    tumbling_min: float = setting(
        60.0,
        unit="min",
        means="a load turns in the tumbler by itself",
        source=INVENTED,
        low=0,
        high=10000,
    )
    weave_ring_s: float = setting(
        14.0, unit="s", means="pick up, open and close one ring", source=SLOW, low=0, high=600
    )
    weave_link_s: float = setting(
        8.0,
        unit="s",
        means="pass a ring through one neighbour; a dense weave has more of them a ring",
        source=SLOW,
        low=0,
        high=600,
    )
    learning_percent: float = setting(
        95.0,
        unit="%",
        means="mean weaving time a copy when the number of copies doubles (100 = no learning)",
        source=INVENTED,
        low=50,
        high=100,
    )
    set_up_min: float = setting(
        15.0,
        unit="min",
        means="set up the welder for a piece: scrap trials, gas, tip",
        source=SLOW,
        low=0,
        high=600,
    )
    fitting_min: float = setting(
        5.0,
        unit="min",
        means="put one fitting on one copy: a clasp, stone, charm …",
        source=SLOW,
        low=0,
        high=600,
    )
    groove_s: float = setting(
        90.0,
        unit="s",
        means="file a groove into one join too thick to penetrate",
        source=SLOW,
        low=0,
        high=3600,
    )
    rework_s: float = setting(
        30.0, unit="s", means="find and weld one bad join again", source=SLOW, low=0, high=3600
    )
    clean_min: float = setting(
        6.0,
        unit="min",
        means="clean one copy: glass brush, rinse",
        source=SLOW,
        low=0,
        high=600,
    )
    finish_min: float = setting(
        10.0,
        unit="min",
        means="finish one copy: clasp, polish, measure",
        source=SLOW,
        low=0,
        high=600,
    )
    quick_share: float = setting(
        0.7,
        means="low end of every time, as a share of the usual",
        source=SLOW,
        low=0.1,
        high=1,
    )
    slow_share: float = setting(
        1.3, means="high end of every time, as a share of it", source=SLOW, low=1, high=10
    )
    new_least_share: float = setting(
        2.0,
        means="a person new to the work takes so many times the usual minutes, at least",
        low=1,
        high=20,
    )
    new_most_share: float = setting(
        3.0,
        means="and so many at most",
        low=1,
        high=20,
    )
    torch_joins_a_round: int = setting(
        12,
        means="joins soldered by torch before pickle and rinse, for the comparison",
        source=INVENTED,
        low=1,
        high=10000,
    )
    torch_round_min: float = setting(
        25.0,
        unit="min",
        means="one round by torch: flux, solder, pickle, rinse, dry",
        source=INVENTED,
        low=0.1,
        high=1000,
    )
    torch_solder_mg: float = setting(
        5.0, unit="mg", means="solder for one join by torch", source=INVENTED, low=0, high=10000
    )
    inspect_s: float = setting(
        3.0, unit="s", means="look at one join under the loupe", source=SLOW, low=0, high=600
    )
