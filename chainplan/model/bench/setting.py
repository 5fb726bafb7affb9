"""How a setting is declared: its field in a class, and its row in ``settings.csv``.

The row has what people must know of the setting: default, unit, range, meaning and source. Default
times at the bench lean to the slow side: a plan that is too short cannot be kept, one that is too
long can.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field, fields
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

KINDS: Mapping[str, Callable[[str], Any]] = {
    "number": float,
    "count": int,
    "money": Decimal,
    "yes/no": lambda word: {"yes": True, "no": False}[word],
    "text": str,
}
"""What a default is, by the word in the table's column ``kind``."""


@dataclass(frozen=True, slots=True)
class SettingInfo:
    """What reader, starter workbook, README and messages need to know of a setting."""

    group: str
    name: str  # the field's name; people may write it with spaces
    default: Any
    unit: str
    means: str
    source: str
    low: float | None  # smallest value allowed
    high: float | None  # largest value allowed
    choices: tuple[str, ...]

    @property
    def words(self) -> str:
        """The setting's name as the job's sheets show it: words instead of underscores."""
        return self.name.replace("_", " ")


@cache
def setting_rows() -> Mapping[tuple[str, str], Mapping[str, str]]:
    """Return the rows of ``settings.csv`` by group and setting, in the file's order."""
    place = resources.files("chainplan.model.bench").joinpath("settings.csv")
    rows = csv.DictReader(place.read_text(encoding="utf-8").splitlines())
    return {(row["group"], row["setting"]): row for row in rows}


def setting(group: str, name: str, *, choices: tuple[str, ...] = ()) -> Any:
    """Declare a field of a settings dataclass: its default, and what people must know of it.

    ``choices`` are the words allowed, where the program must know them one by one.
    """
    row = setting_rows()[group, name]
    info = {word: row[word] for word in ("unit", "means", "source")}
    ends = {end: _bound(row[end]) for end in ("low", "high")}
    default = KINDS[row["kind"]](row["default"])
    return field(default=default, metadata={**info, **ends, "choices": choices})


def _bound(text: str) -> float | None:
    """Read an end of a range, written as it is shown: 1 stays 1 and 1.0 stays 1.0."""
    if not text:
        return None
    return float(text) if "." in text else int(text)


def settings_of(group: str, cls: type) -> Iterator[SettingInfo]:
    """List the settings of one group in the order in which they are declared."""
    for item in fields(cls):
        yield SettingInfo(group=group, name=item.name, default=item.default, **item.metadata)
