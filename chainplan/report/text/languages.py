"""Texts of what is read at the bench, in every language: one table, a row a text."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from chainplan.model.bench.groups import LANGUAGES

TABLE = Path(__file__).with_name("bench_texts.csv")
"""Columns: the text's key, then one language each. ``{name}`` in a text is filled in; of texts that
tell a number there is one for one and one for all others, with ``.one`` and ``.other`` at the key's
end. The row ``review`` says of each language whether somebody of the trade has read it."""


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
