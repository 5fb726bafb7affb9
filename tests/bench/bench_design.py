"""Prints what a picture costs: a sheet planned plain, and with a picture in three metals.

A sheet of another metal alone may be warmer and so take longer to plan: the picture is set against
plain silver, which it replaces, and against the slowest plain one of its own metals.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image

import chainplan

PLAIN = """start_date = 2027-01-11
[[piece]]
name = "Sheet"
weave = "european-4-in-1"
wire = "1.2mm"
inner = "5.0mm"
metal = "{metal}"
rings = {rings}
rows = {rows}
"""
METALS = ("sterling-silver", "copper", "brass")
PICTURE = """design = "disc"
[[design]]
design = "disc"
rule = "picture"
which = "disc.png"
metals = "copper, brass"
"""


def draw(path: Path) -> None:
    """A disc within a ring, five times as fine as the sheet."""
    y, x = np.mgrid[:400, :400] + 0.5 - 200
    away = np.hypot(x, y)
    dots = np.zeros((400, 400, 4), dtype=np.uint8)
    dots[away < 160] = (201, 116, 75, 255)
    dots[away < 90] = (207, 181, 59, 255)
    Image.fromarray(dots).save(path)


def seconds(job: str, folder: Path) -> tuple[float, int, str]:
    """Processor time of reading, planning and writing; rings, and the rings of each metal."""
    path = folder / "sheet.toml"
    path.write_text(job, encoding="utf-8")
    begin = time.process_time()
    plan = chainplan.make_plan(chainplan.read_job(path))
    chainplan.write_plan(plan, folder / "out")
    took = time.process_time() - begin
    layout = plan.pieces[0].layout
    told = ", ".join(f"{item.rings} {item.metal}" for item in layout.materials)
    return took, layout.rings, told


def main(sizes: list[int]) -> None:
    """Plan sheets of some sizes plain in each metal, and with a picture in all of them."""
    heads = "".join(f"{metal + ' s':>18}" for metal in METALS)
    print(f"{'rings':>8}{heads}{'picture s':>11}{'by silver':>11}{'by slowest':>12}  metals")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        draw(folder / "disc.png")
        for rings in sizes:
            plain = [
                PLAIN.format(rings=rings, rows=round(rings**0.5), metal=metal) for metal in METALS
            ]
            took = [seconds(job, folder)[0] for job in plain]
            drawn, count, told = seconds(plain[0] + PICTURE, folder)
            each = "".join(f"{one:18.1f}" for one in took)
            by = f"{drawn / took[0]:11.2f}{drawn / max(took):12.2f}"
            print(f"{count:8}{each}{drawn:11.1f}{by}  {told}", flush=True)


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [1000, 10_000, 100_000])
