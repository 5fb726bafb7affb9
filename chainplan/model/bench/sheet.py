"""The bench sheet: the language that it speaks."""

from __future__ import annotations

from dataclasses import dataclass

from chainplan.model.bench.setting import setting

LANGUAGES = ("en", "de", "fr", "it", "es")
"""Languages of the bench sheet; all but English are translations that nobody of the trade has
reviewed, and say so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSettings:
    """What the bench sheet is like."""

    language: str = setting(
        "en",
        means="language of the bench sheet; de, fr, it and es are unreviewed translations",
        choices=LANGUAGES,
    )
