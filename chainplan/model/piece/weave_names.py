"""The weave names that a job may use, handed to the reader by whoever knows the weaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.model.kinds import Form

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    from chainplan.model.piece.weave import Weave


@frozen
class WeaveName:
    """One weave as a job file may name it, and which columns go with it."""

    key: str
    title: str = ""
    trade_names: tuple[str, ...] = ()
    form: Form = Form.CHAIN  # strips and sheets need rows
    second_ring: str = "none"  # "none", "optional" or "needed"
    rings: int = 0  # in a repeat; 0: not known
    parts: tuple[str, ...] = ()  # names that a design may give a metal

    @classmethod
    def of(cls, weave: Weave) -> WeaveName:
        """Take what the reader needs from a weave."""
        second = "none"
        if len(weave.classes) > 1:
            needed = any(ring.inner_ratio is None for ring in weave.classes[1:])
            second = "needed" if needed else "optional"
        return cls(
            key=weave.key,
            title=weave.title,
            trade_names=weave.trade_names,
            form=weave.form,
            second_ring=second,
            rings=len(weave.ring_class),
            parts=weave.part_names,
        )


@dataclass(frozen=True, slots=True)
class WeaveNames:
    """All weave names a job may use.

    ``open_file`` reads a weave of the user's own from a file beside the job, where that is offered;
    it raises ``InputError`` if the file is no weave.
    """

    names: tuple[WeaveName, ...]
    open_file: Callable[[Path], WeaveName] | None = None

    @classmethod
    def of(
        cls, weaves: Iterable[Weave], open_file: Callable[[Path], WeaveName] | None = None
    ) -> WeaveNames:
        """Take the names from weaves."""
        return cls(tuple(WeaveName.of(weave) for weave in weaves), open_file)

    def find(self, text: str) -> WeaveName | None:
        """Find a weave by key, title or trade name, whatever its capitals, hyphens and spaces."""
        wanted = plain(text)
        for name in self.names:
            if wanted in {plain(known) for known in (name.key, name.title, *name.trade_names)}:
                return name
        return None

    def words(self) -> list[str]:
        """List every key and trade name, for hints."""
        return [word for name in self.names for word in (name.key, *name.trade_names)]


def plain(text: str) -> str:
    """Fold capitals, hyphens, underscores and runs of spaces of a name away.

    Examples
    --------
    >>> plain(" European  4-in-1"), plain("european_4-in-1")
    ('european 4 in 1', 'european 4 in 1')
    """
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())
