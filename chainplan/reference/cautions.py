"""Cautions that go on every sheet that reaches the bench, chosen by metal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from chainplan.frozen import frozen
from chainplan.reference.checked.tables import read_table, source_text
from chainplan.reference.texts import ENGLISH

if TYPE_CHECKING:
    from collections.abc import Iterable


@frozen
class Caution:
    """One caution: what it is about, for which metals, and where it comes from.

    Its words stand in the table of texts, in every language; ``text`` is the English.
    """

    key: str
    topic: str
    text: str
    metals: tuple[str, ...]  # empty: for every metal
    sign: str  # ISO 7010 code, or ""
    source: str


def cautions(metals: Iterable[str] | None = None) -> tuple[Caution, ...]:
    """Return the cautions that apply, most general first.

    Parameters
    ----------
    metals : iterable of str, optional
        Keys of the metals in the job. None: every caution there is.

    Examples
    --------
    >>> [c.key for c in cautions(["brass"]) if c.metals]
    ['zinc-fume']
    """
    wanted = None if metals is None else set(metals)
    found = []
    for row in read_table("cautions"):
        only = tuple(row["metal"].split())
        if wanted is not None and only and not wanted.intersection(only):
            continue
        found.append(
            Caution(
                key=row["caution"],
                topic=row["topic"],
                text=ENGLISH(f"caution.{row['caution']}"),
                metals=only,
                sign=row["sign"],
                source=source_text(row),
            )
        )
    return tuple(found)
