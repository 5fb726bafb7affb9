"""What is said at the bench, before any language: a key of the table of texts, and what fills it.

A sentence is one text of the table. Where it names things that are texts themselves, such as a pair
or a list of rings, those are filled in as they stand: no language has to bend them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeAlias, Union

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

Fill: TypeAlias = Union[int, str, "Phrase", tuple["Fill", ...]]
"""What stands in a place of a text: a number, a name, another text, or a list of them."""

TOUCHED = ", where touched"
"""What ends the name of the spot of a part that rings touch."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """A text by its key, with what fills its places."""

    key: str
    fills: Mapping[str, Fill] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Take numbers of arrays as plain ones."""
        plain = {name: _plain(fill) for name, fill in self.fills.items()}
        object.__setattr__(self, "fills", plain)

    def keys(self) -> Iterator[str]:
        """Tell the keys of this text and of those within it."""
        yield self.key
        for fill in self.fills.values():
            for item in fill if isinstance(fill, tuple) else (fill,):
                if isinstance(item, Phrase):
                    yield from item.keys()


def _plain(fill: Fill) -> Fill:
    if isinstance(fill, tuple):
        return tuple(_plain(item) for item in fill)
    return fill if isinstance(fill, (str, Phrase)) else int(fill)


def said(key: str, **fills: Fill) -> Phrase:
    """Make a text by its key.

    Examples
    --------
    >>> said("line.named.one.pair", number=3).fills["number"]
    3
    """
    return Phrase(key, fills)


def said_effect(name: str) -> Phrase:
    """Make the text of what a metal does when warm, such as "darkening, copper", or even welds.

    Examples
    --------
    >>> said_effect("heat tint, titanium").key
    'line.effect.heat_tint'
    """
    effect, _, metal = name.partition(", ")
    return said(f"line.effect.{effect.replace(' ', '_')}", metal=metal)


def said_part(name: str) -> Phrase | str:
    """Make the text of a part, which has the user's own name, or of the spot where it is touched.

    Examples
    --------
    >>> said_part("pearl"), said_part("pearl, where touched").key
    ('pearl', 'limit.touched')
    """
    part = name.removesuffix(TOUCHED)
    return name if part == name else said("limit.touched", part=part)


def read_said(tree: Any) -> Phrase | None:
    """Read a text as plan.json holds it; None if there is none.

    Examples
    --------
    >>> read_said({"key": "line.list", "fills": {"last": {"key": "face.front", "fills": {}}}}).key
    'line.list'
    """
    return Phrase(tree["key"], {k: _read(v) for k, v in tree["fills"].items()}) if tree else None


def _read(tree: Any) -> Fill:
    if isinstance(tree, list):
        return tuple(_read(item) for item in tree)
    return read_said(tree) or "" if isinstance(tree, dict) else tree
