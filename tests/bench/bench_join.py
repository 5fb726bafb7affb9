"""How long placing the joins takes: chains and sheets of 10³ to 10⁶ rings, and every weave.

Run as a script. Seconds of processor time; the pieces are laid out beforehand.
"""

from __future__ import annotations

import math
import sys
import time

from chainplan.join import place_joins
from chainplan.join.reaching.surroundings import classify_rings
from chainplan.model.bench.groups import ElectrodeSettings
from chainplan.model.job import Piece, Section
from chainplan.weave import lay_piece

WAY = "all in place"
PIECES = (
    ("single-link", 4.5, 1),
    ("byzantine", 3.6, 1),
    ("jens-pind-3", 3.0, 1),
    ("european-4-in-1", 4.5, 0),
)
SIZES = (1_000, 10_000, 100_000, 1_000_000)


def lay(weave, ratio, rings, rows):
    """Lay a piece of about so many rings; a sheet is about square where rows is 0."""
    if rows == 0:
        rows = max(5, round(math.sqrt(rings)))
    section = Section(
        weave=weave,
        metal="sterling-silver",
        wire_mm=1.0,
        inner_mm=ratio,
        rings=rings,
        rows=rows if rows > 1 else None,
    )
    return lay_piece(Piece(name="bench", quantity=1, sections=(section,)))


def main() -> None:
    """Print a line a piece."""
    sizes = [size for size in SIZES if size <= int(float(sys.argv[1]))] if sys.argv[1:] else SIZES
    print(f"{'weave':18} {'rings':>9} {'classes':>8} {'seconds':>8} {'µs a ring':>10}")
    for weave, ratio, rows in PIECES:
        for size in sizes:
            layout = lay(weave, ratio, size, rows)
            classes = classify_rings(layout, search_mm=13.0).count
            start = time.process_time()
            spot_mm = [0.9] * len(layout.materials)
            place_joins(layout, spot_mm=spot_mm, electrode=ElectrodeSettings(), way=WAY)
            seconds = time.process_time() - start
            print(
                f"{weave:18} {layout.rings:9d} {classes:8d} {seconds:8.2f} "
                f"{1e6 * seconds / layout.rings:10.2f}"
            )


if __name__ == "__main__":
    main()
