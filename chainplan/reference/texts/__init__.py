"""Texts of what is read at the bench, in every language: one table, a row a text."""

from __future__ import annotations

import csv
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.model.bench.groups import LANGUAGES
from chainplan.model.said import Phrase

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.said import Fill

TABLE = Path(__file__).with_name("bench_texts.csv")
"""Columns: the text's key, then one language each. ``{name}`` is filled in, and ``{name.nth}``
is that number as an English rank. Of texts that tell a number ``n`` there is one for one and one
for all others, with ``.one`` and ``.other`` at the key's end. The row ``review`` says of each
language whether somebody of the trade has read it."""
_PLACE = re.compile(r"\{(\w+)(\.nth)?\}")


@cache
def _table() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {language: {row["key"]: row[language] for row in rows} for language in LANGUAGES}


def bench_texts(language: str) -> dict[str, str]:
    """Give the texts of one language by their keys.

    Examples
    --------
    >>> bench_texts("en")["button.done"], bench_texts("de")["button.done"]
    ('Done', 'Fertig')
    """
    texts = dict(_table()[language])
    del texts["review"]
    return texts


def is_reviewed(language: str) -> bool:
    """Whether somebody of the trade has read the texts of a language."""
    return _table()[language]["review"] == "complete"


def ordinal(number: int) -> str:
    """Write a number as an English rank.

    Examples
    --------
    >>> [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 21, 103, 112)]
    ['1st', '2nd', '3rd', '4th', '11th', '12th', '21st', '103rd', '112th']
    """
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


@cache
def _note_forms() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """How each note of the table reads in English, with more of them behind it or not."""
    found = []
    for key, text in _table()["en"].items():
        if key.startswith("note.") and key != "note.of_piece":
            parts = re.split(r"\{(\w+)\}", text)
            form = "".join(
                f"(?P<{part}>.+?)" if k % 2 else re.escape(part) for k, part in enumerate(parts)
            )
            found.append((key, re.compile(f"{form}(?:; (?P<more>.+))?")))
    return tuple(found)


class Texts:
    """The texts of one language, filled in."""

    def __init__(self, language: str) -> None:
        self.language = language
        self._texts: Mapping[str, str] = _table()[language]

    def __call__(self, key: str, **fills: Fill) -> str:
        """Give a text by its key, its places filled in.

        Raises
        ------
        KeyError
            If the table has no such text, or nothing stands for one of its places.

        Examples
        --------
        >>> Texts("en")("line.joins", n=1), Texts("de")("line.joins", n=12)
        ('1 join', '12 Fugen')
        """
        text = self._texts.get(key)
        if text is None:
            text = self._texts[f"{key}.{'one' if fills['n'] == 1 else 'other'}"]

        def filled(place: re.Match[str]) -> str:
            value = fills[place[1]]
            if place[2] and isinstance(value, int):
                return ordinal(value)
            return self.metal(value) if place[1] == "metal" else self.say(value)

        return _PLACE.sub(filled, text)

    def metal(self, name: Fill) -> str:
        """Name a metal by its key or its words; one of the user's own stands for itself.

        Examples
        --------
        >>> Texts("de").metal("sterling-silver"), Texts("de").metal("our alloy")
        ('Sterlingsilber', 'our alloy')
        """
        word = str(name)
        return self._texts.get(f"metal.{re.sub('[- ]', '_', word)}", word)

    def note(self, words: str) -> str:
        """Say a setting's note, parts of which may be texts of the table; others are the user's.

        Examples
        --------
        >>> Texts("de").note("scaled by 1.20 from what was recorded for this metal; pale flame")
        'mit 1.20 umgerechnet aus dem, was für dieses Metall notiert wurde; pale flame'
        """
        if self.language == "en" or not words:
            return words
        for key, form in _note_forms():
            found = form.fullmatch(words)
            if found:
                fills: dict[str, Fill] = {**found.groupdict(default="")}
                more = self.note(str(fills.pop("more")))
                if "hits" in fills:
                    fills["hits"] = Phrase("hits", {"n": int(str(fills["hits"]).split()[0])})
                told = self(key, **fills)
                return f"{told}; {more}" if more else told
        return words

    def say(self, value: Fill) -> str:
        """Say a text, a number, a name, or a list: "one, two and three".

        Examples
        --------
        >>> Texts("en").say((1, 4, 7)), Texts("fr").say((1, 4))
        ('1, 4 and 7', '1 et 4')
        """
        if isinstance(value, Phrase):
            return self(value.key, **value.fills)
        if not isinstance(value, tuple):
            return str(value)
        *others, last = [self.say(item) for item in value]
        return self("line.list", others=", ".join(others), last=last) if others else last


@cache
def texts_of(language: str) -> Texts:
    """Give the texts of a language, read once."""
    return Texts(language)


ENGLISH = texts_of("en")
"""For all that is not read at the bench, and where nobody asked for another language."""


def in_english(value: Fill) -> str:
    """Say a text in English, as plan.json and all that is not read at the bench do."""
    return ENGLISH.say(value)
