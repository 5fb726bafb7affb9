"""Charts kept from one plan to the next: drawn anew only where what they show has changed."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from chainplan.report.charts.figures import ENDINGS, write_chart
from chainplan.store import key_of
from chainplan.store.packing import pack
from chainplan.store.version import drawing_version

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from matplotlib.figure import Figure

    from chainplan.model.plan import PiecePlan
    from chainplan.store import ResultShelf


@dataclass(frozen=True)
class ChartShelf:
    """A shelf for charts that show nothing but one piece."""

    shelf: ResultShelf
    _digests: dict[int, str] = field(default_factory=dict)

    def write(
        self, name: str, piece: PiecePlan, draw: Callable[[], Figure], folder: Path
    ) -> list[Path]:
        """Write a chart as it was kept; draw and keep it if it was not. Return the files."""
        key = key_of("chart", name, self._digest_of(piece), drawing_version())
        kept = self.shelf.get(key)
        paths = [folder / f"{name}{ending}" for ending in ENDINGS]
        good = isinstance(kept, tuple) and len(kept) == len(ENDINGS)
        if good and all(isinstance(item, np.ndarray) for item in kept):
            for path, content in zip(paths, kept, strict=True):
                path.write_bytes(content.tobytes())
            return paths
        figure = draw()
        for path in paths:
            write_chart(figure, path)
        self.shelf.put(key, tuple(np.frombuffer(p.read_bytes(), dtype=np.uint8) for p in paths))
        return paths

    def _digest_of(self, piece: PiecePlan) -> str:
        """Digest all that a piece is; its counts and the job's words on it are in no chart."""
        if id(piece) not in self._digests:
            told = replace(piece, counts=(), heat=piece.heat.unsolved())
            self._digests[id(piece)] = hashlib.sha256(pack(told)).hexdigest()
        return self._digests[id(piece)]
