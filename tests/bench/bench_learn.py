"""Does learning tell the truth? 200 simulated workshops, and bench time from job to job.

    python tests/bench/bench_learn.py [workshops]

The first table: how often the interval of each figure holds the true value. An interval of 90 %
over 200 workshops should hold it in 86.5 to 93.5 % of them (two standard errors of the count are
4.2 %). The second: the error of the planned bench time when each job takes over what was learnt.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_workshop import DAY_S, START_S, Truth, invented_plan, simulate

from chainplan.record.kept.store import Record
from chainplan.record.learning.learn import learn_from

TRUE = {
    "pace.handle_s": lambda t: t.handle_s,
    "wire.join_yield": lambda t: t.join_yield,
    "stations.rework_s": lambda t: t.rework_s,
    "stations.weave_ring_s": lambda t: 10.0 * t.weave_factor,
    "stations.clean_min": lambda t: 5.0 * np.exp(t.station_spread**2 / 2),
    "stations.learning_percent": lambda t: t.learning_percent,
}


def any_truth(random: np.random.Generator) -> Truth:
    """Some workshop."""
    return Truth(
        handle_s=random.uniform(4, 12), join_yield=random.beta(38, 2),
        rework_s=random.uniform(8, 30), weave_factor=random.uniform(0.7, 1.8),
        learning_percent=random.uniform(80, 98),
    )  # fmt: skip


def coverage(workshops: int) -> None:
    """Count how often intervals hold the truth."""
    inside: dict[str, int] = defaultdict(int)
    told: dict[str, int] = defaultdict(int)
    enough: dict[str, int] = defaultdict(int)
    for seed in range(workshops):
        random = np.random.default_rng(seed)
        truth = any_truth(random)
        plan = invented_plan(copies=12, rings=60)
        with Record.empty() as record:
            record.add(simulate(plan, truth, random), plan=plan)
            lesson = learn_from(record)
        for item in lesson.figures:
            if item.key in TRUE:
                told[item.key] += 1
                enough[item.key] += item.enough
                inside[item.key] += item.low <= TRUE[item.key](truth) <= item.high
    print(f"{'figure':28} {'workshops':>9} {'interval holds truth':>21} {'called enough':>14}")
    for key in TRUE:
        n = max(told[key], 1)
        print(f"{key:28} {told[key]:9d} {inside[key] / n:21.1%} {enough[key] / n:14.1%}")


def from_job_to_job(workshops: int, jobs: int = 5) -> None:
    """Plan, weld, learn, plan the next: how wrong is the planned bench time?"""
    wrong = np.zeros((workshops, jobs))
    for seed in range(workshops):
        random = np.random.default_rng(10_000 + seed)
        truth = any_truth(random)
        usual = {"pace.handle_s": 5.0, "wire.join_yield": 0.97, "stations.rework_s": 20.0}
        with Record.empty() as record:
            for job in range(jobs):
                plan = invented_plan(
                    copies=2, rings=80, key=f"{job:016x}", handle_s=usual["pace.handle_s"]
                )
                start_s = START_S + job * 30 * DAY_S
                events = simulate(plan, truth, random, start_s=start_s)
                real_s = sum(e.work_s for e in events if e.work_s and e.work_s < 2000)
                (piece,) = plan.pieces
                joins = piece.copies * piece.joins
                again_s = joins * (1 - usual["wire.join_yield"]) / usual["wire.join_yield"]
                planned_s = piece.copies * float(piece.pace_s.sum())
                planned_s += again_s * usual["stations.rework_s"]
                wrong[seed, job] = abs(planned_s / real_s - 1)
                record.add(events, plan=plan)
                lesson = learn_from(record)
                usual |= {i.key: i.new for i in lesson.figures if i.key in usual}
    print(f"\n{'job':>4} {'mean error of planned bench time':>34}")
    for job, error in enumerate(wrong.mean(axis=0), 1):
        print(f"{job:4d} {error:34.1%}")


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    coverage(number)
    from_job_to_job(max(number // 4, 1))
