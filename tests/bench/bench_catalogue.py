"""A catalogue of 1000 pieces, quoted and planned: ``bench_catalogue.py [pieces] [planned]``.

Fifty invented kinds (weave, wire, ring, metal) in twenty lengths. Prints seconds of the processor
and of the clock, and the memory of the largest process, for ``chainplan quote`` on all of them and
for ``chainplan plan`` on evenly spread ones (100 unless told otherwise; 0: none, with the workers
that there are cores). Then what is planned is planned again with silver 10 % dearer.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

WEAVES = {
    "single-link": (3.4, 4.2, 5.0),
    "double-link": (4.6, 5.2),
    "byzantine": (3.6, 4.0, 4.4),
    "box": (4.4,),
    "full-persian": (5.4,),
}
"""Inner diameters over wire of each weave."""
METALS = ("sterling-silver", "copper", "gold-18ct-yellow", "stainless-304", "brass")
WIRES_MM = (0.8, 1.0)
LENGTHS_CM = (16, 17, 18, 19, 20, 21, 22, 23, 24, 36, 38, 40, 42, 45, 48, 50, 55, 60, 65, 70)
STRIDE = 389
"""From one piece to the next among all of them: no divisor in common with their number, so that a
part of them has kinds, metals and lengths as all have."""
PRICES = """
[[price]]
item = "sterling-silver"
price = {silver}
per = "g"
"""


def kinds() -> list[tuple[str, str, float, float]]:
    """Fifty kinds: weave, metal, wire and inner diameter in mm."""
    every = [
        (weave, metal, wire, round(wire * ratio, 2))
        for weave, ratios in WEAVES.items()
        for ratio in ratios
        for wire in WIRES_MM
        for metal in METALS
    ]
    return every[:: len(every) // 50][:50]


def catalogue(pieces: int, *, silver: float = 1.10) -> str:
    """Write an invented job of so many pieces, spread over kinds and lengths."""
    every = [(kind, length) for length in LENGTHS_CM for kind in kinds()]
    lines = [PRICES.format(silver=silver)]
    for number in range(pieces):
        (weave, metal, wire, inner), length = every[number * STRIDE % len(every)]
        lines.append(
            f'[[piece]]\nname = "{weave} {metal} {wire} {inner} {length}"\nweave = "{weave}"\n'
            f'metal = "{metal}"\nwire_mm = {wire}\ninner_mm = {inner}\nlength = "{length} cm"\n'
        )
    return "\n".join(lines)


def run(*words: str) -> tuple[float, float, float]:
    """Run a command; seconds of the processor and of the clock, MB of the largest process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.perf_counter()
    subprocess.run([sys.executable, "-m", "chainplan", *words], check=True, capture_output=True)
    clock = time.perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return spent, clock, after.ru_maxrss / 1024


def main() -> None:
    """Print a row a run."""
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    planned = int(sys.argv[2]) if len(sys.argv) > 2 else 100
    print(f"{'what':34} {'pieces':>7} {'cpu s':>8} {'clock s':>8} {'MB':>6}   load")
    with tempfile.TemporaryDirectory() as place:
        os.environ["CHAINPLAN_CACHE"] = f"{place}/kept"
        all_of_it, part, dearer = (Path(place) / f"{name}.toml" for name in ("all", "part", "more"))
        all_of_it.write_text(catalogue(pieces), encoding="utf-8")
        part.write_text(catalogue(max(planned, 1)), encoding="utf-8")
        dearer.write_text(catalogue(max(planned, 1), silver=1.21), encoding="utf-8")
        out = f"{place}/out"
        rows = [
            ("quote, one worker", pieces, ("quote", str(all_of_it), "--workers", "1")),
            ("quote, all cores", pieces, ("quote", str(all_of_it))),
        ]
        if planned:
            rows += [
                ("plan, all cores", planned, ("plan", str(part), "--out", out)),
                ("plan again, silver 10 % dearer", planned, ("plan", str(dearer), "--out", out)),
            ]
        for name, count, words in rows:
            spent, clock, peak = run(*words)
            load = os.getloadavg()[0]
            print(
                f"{name:34} {count:7d} {spent:8.1f} {clock:8.1f} {peak:6.0f}   {load:.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
