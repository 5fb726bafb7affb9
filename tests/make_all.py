"""Make everything anew that is derived from something else in the project.

Run as ``python tests/make_all.py`` after a change of a weave, a metal, a column or the drawing of
pages; what has not changed comes out the same. Parts may be named to make only those. The pictures
need chromium.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from make_pictures import make_pictures
from make_samples import write_samples

from chainplan.bounds import bounds_markdown
from chainplan.job import columns_markdown
from chainplan.weave.solving.starts import make_starts

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

ROOT = Path(__file__).resolve().parents[1]
PARTS = {
    "starts": "solved starts of weaves whose file has changed",
    "samples": "sample jobs with their drop-down lists",
    "readme": "tables of columns and bounds in the README",
    "pictures": "pictures of the README",
}


def write_readme_tables(readme: Path) -> list[Path]:
    """Put the columns as the reader knows them between the README's marks."""
    text = readme.read_text(encoding="utf-8")
    fresh = re.sub(
        r"(<!-- columns: (\w+) -->\n).*?(<!-- end -->)",
        lambda found: found[1] + columns_markdown(found[2]) + found[3],
        text,
        flags=re.DOTALL,
    )
    fresh = re.sub(
        r"(<!-- bounds -->\n).*?(<!-- end -->)",
        lambda found: found[1] + bounds_markdown() + found[2],
        fresh,
        flags=re.DOTALL,
    )
    if fresh == text:
        return []
    readme.write_text(fresh, encoding="utf-8")
    return [readme]


def tell_step(stage: str, done: int, total: int) -> None:
    """Show how far a weave is, on one line of stderr."""
    end = "\n" if done == total else ""
    sys.stderr.write(f"\r\x1b[K{stage}: {done} of {total}{end}")
    sys.stderr.flush()


def make_part(part: str, weaves: Sequence[str]) -> Iterable[Path]:
    """Make one part and return the files written."""
    if part == "starts":
        return make_starts(weaves, on_step=tell_step)
    if part == "samples":
        return write_samples(ROOT / "samples")
    if part == "readme":
        return write_readme_tables(ROOT / "README.md")
    return make_pictures(ROOT / "samples" / "pictures")


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the parts asked for, or all, in the order in which they need each other."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    known = "; ".join(f"{part}: {what}" for part, what in PARTS.items())
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"{known} (default: all)")
    parser.add_argument(
        "--weave", action="append", default=[], metavar="KEY", help="solve its starts in any case"
    )
    wanted = parser.parse_args(arguments)
    unknown = sorted(set(wanted.parts) - set(PARTS))
    if unknown:
        parser.error(f"unknown: {', '.join(unknown)}; known: {', '.join(PARTS)}")
    for part in [part for part in PARTS if part in wanted.parts or not wanted.parts]:
        files = [str(path.relative_to(ROOT)) for path in make_part(part, wanted.weave)]
        sys.stdout.write(f"{part}: {', '.join(files) or 'as they were'}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
