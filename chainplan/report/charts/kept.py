"""Charts kept from one plan to the next: drawn anew only where what they show has changed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from chainplan.store import key_of
from chainplan.store.packing import digest
from chainplan.store.version import drawing_version

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from matplotlib.figure import Figure

    from chainplan.store import ResultShelf


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart to be drawn: the name of its file, how, and from what.

    It is drawn from what it shows and from nothing else, so that this is all that it depends on.
    """

    name: str
    draw: Callable[..., Figure]
    shows: tuple[Any, ...]


@dataclass(frozen=True)
class ChartShelf:
    """A shelf for charts; the key of one is a digest of all that it is drawn from."""

    shelf: ResultShelf
    _digests: dict[int, tuple[Any, str]] = field(default_factory=dict)

    def take(self, chart: Chart, paths: Sequence[Path]) -> bool:
        """Write a chart as it was kept, in the formats of some paths; say whether it was."""
        kept = self.shelf.get(self._key(chart, paths))
        good = isinstance(kept, tuple) and len(kept) == len(paths)
        if not good or not all(isinstance(item, np.ndarray) for item in kept):
            return False
        for path, content in zip(paths, kept, strict=True):
            path.write_bytes(content.tobytes())
        return True

    def keep(self, chart: Chart, paths: Sequence[Path]) -> None:
        """Keep a chart as it stands in its files."""
        drawn = tuple(np.frombuffer(p.read_bytes(), dtype=np.uint8) for p in paths)
        self.shelf.put(self._key(chart, paths), drawn)

    def _key(self, chart: Chart, paths: Sequence[Path]) -> str:
        shown = [self._digest_of(part) for part in chart.shows]
        endings = [path.suffix for path in paths]
        return key_of("chart", chart.name, shown, endings, drawing_version())

    def _digest_of(self, part: Any) -> str:
        """Digest a part of what is shown; a piece that several charts show is digested once."""
        if (
            id(part) not in self._digests
        ):  # the part is held on to, so that its number stays its own
            self._digests[id(part)] = (part, digest(part))
        return self._digests[id(part)][1]
