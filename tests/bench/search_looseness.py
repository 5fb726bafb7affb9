"""Search, weave by weave, from which margin on a fold or turn can go over into another state.

``python tests/bench/search_looseness.py [WEAVE …]`` walks from the taut and the gathered state at
rising margins above the smallest aspect ratio, and prints for each whether a walk went over, how
far the fold was got, and how far a ring swung out of its plane while it held. The bounds of the
words in ``chainplan/weave/solving/limits.py`` rest on this table.
"""

from __future__ import annotations

import sys

from chainplan.weave.library import load_weave, weave_keys
from chainplan.weave.shape.invariants import list_rules
from chainplan.weave.solving.cache import find_smallest_aspect_ratio, solved_poses
from chainplan.weave.solving.escape import walk_loose

MARGINS = (0.05, 0.12, 0.2, 0.3, 0.45, 0.65, 1.0)
SEEDS = 2
STEPS = 100


def main(keys: list[str]) -> None:
    """Print the table."""
    folded = [
        key
        for key in weave_keys()
        if any(rule["check"] != "handed" for rule in list_rules(load_weave(key)))
    ]
    print(f"{'weave':22} {'margin':>6} {'ratio':>6}  {'state':9} over  least  swing °")
    for key in keys or folded:
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
