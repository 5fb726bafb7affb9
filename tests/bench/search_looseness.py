"""Search, weave by weave, from which margin on a fold or turn can go over into another state.

``python tests/bench/search_looseness.py [WEAVE …]`` walks from the taut and the gathered state at
rising margins above the smallest aspect ratio, and prints for each whether a walk went over, how
far the fold was got, and how far a ring swung out of its plane while it held. The bounds of the
words in ``chainplan/weave/solving/limits.py`` rest on this table. Of a named weave that its links
alone hold it walks by chance, shrinks the rings again and prints the ratio at which they lock: the
smallest one, unless the walk has gone over into another state.
"""

from __future__ import annotations

import sys

import numpy as np

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.invariants import list_rules
from chainplan.weave.shape.poses import find_links, order_links, smallest_gap
from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solved_poses
from chainplan.weave.solving.continuation import shrink_rings
from chainplan.weave.solving.escape import OVERLAP, TRUST, walk_loose
from chainplan.weave.solving.linearised import EXTRA, linearise, move
from chainplan.weave.solving.programme import restore, solve_towards

MARGINS = (0.05, 0.12, 0.2, 0.3, 0.45, 0.65, 1.0)
SEEDS = 2
STEPS = 100


def walk_by_chance(weave, poses, seed: int):
    """Move the rings this way and that without overlap, all links kept."""
    links, rng, radius = order_links(weave.links), np.random.default_rng(seed), TRUST
    for step in range(STEPS):
        if step % 8 == 0:
            aim = rng.normal(size=5 * poses.count + EXTRA)
        lines = linearise(poses, max(3 * radius, 0.05))
        trial = restore(move(poses, solve_towards(poses, aim, lines, radius)), times=4)
        if smallest_gap(trial) < -OVERLAP or not np.array_equal(find_links(trial), links):
            radius = max(radius / 2, 0.01)
            continue
        poses, radius = trial, min(1.5 * radius, TRUST)
    return poses


def print_locks(key: str) -> None:
    """Print where rings lock after walks by chance."""
    weave = load_weave(key)
    smallest = find_smallest_aspect_ratio(weave)
    for margin in (*MARGINS, 1.35):
        for state in ("taut", "gathered"):
            poses = solved_poses(weave, smallest * (1 + margin), state)
            walks = [walk_by_chance(weave, poses, seed) for seed in range(SEEDS)]
            locks = [shrink_rings(end, order_links(weave.links)).aspect_ratio for end in walks]
            told = ", ".join(f"{ratio:.3f}" for ratio in locks)
            print(
                f"{key:22} {margin:6.2f} {smallest * (1 + margin):6.2f}  {state:9} locks at {told}"
            )


def main(keys: list[str]) -> None:
    """Print the table."""
    folded = [
        key
        for key in weave_keys()
        if any(rule["check"] != "handed" for rule in list_rules(load_weave(key)))
    ]
    print(f"{'weave':22} {'margin':>6} {'ratio':>6}  {'state':9} over  least  swing °")
    for key in keys or folded:
        if key not in folded:
            print_locks(key)
            continue
        weave = load_weave(key)
        smallest = find_smallest_aspect_ratio(weave)
        for margin in MARGINS:
            over = []
            for state in ("taut", "gathered"):
                poses = solved_poses(weave, smallest * (1 + margin), state)
                walks = []
                for seed in range(SEEDS):
                    walks.append(walk_loose(weave, poses, seed=seed, steps=STEPS))
                    if walks[-1].went_over:
                        break
                over.append(walks[-1].went_over)
                least = min(walk.least for walk in walks)
                swing = max(walk.swing_deg for walk in walks)
                print(
                    f"{key:22} {margin:6.2f} {smallest * (1 + margin):6.2f}  {state:9} "
                    f"{'yes' if over[-1] else 'no':4} {least:6.2f} {swing:8.0f}",
                    flush=True,
                )
            if all(over):
                break


if __name__ == "__main__":
    main(sys.argv[1:])
