"""The bench sheet: the language that it speaks, and how sharply joins are checked."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting

LANGUAGES = ("en", "de", "fr", "it", "es")
"""Languages of the bench sheet; all but English are translations that nobody of the trade has
reviewed, and say so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSettings:
    """What the bench sheet is like."""

    language: str = setting("sheet", "language", choices=LANGUAGES)
    aql_percent: float = setting("sheet", "aql_percent")
