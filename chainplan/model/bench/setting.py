"""How a setting is declared: default, unit, range, meaning and source in one place."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

PRACTICE = "common practice, no source"
INVENTED = "invented default: put your own"
SLOW = "common practice, no source, taken from its slow side: put your own"
"""Of times at the bench: a plan that is too short cannot be kept, one that is too long can."""


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


def setting(
    default: Any,
    *,
    unit: str = "",
    means: str,
    source: str = PRACTICE,
    low: float | None = None,
    high: float | None = None,
    choices: tuple[str, ...] = (),
) -> Any:
    """Declare a field of a settings dataclass together with what people must know of it.

    ``low`` and ``high`` are the bounds that a user's value is checked against.
    """
    info = {
        "unit": unit,
        "means": means,
        "source": source,
        "low": low,
        "high": high,
        "choices": choices,
    }
    return field(default=default, metadata=info)


def settings_of(group: str, cls: type) -> Iterator[SettingInfo]:
    """List the settings of one group in the order in which they are declared."""
    for item in fields(cls):
        yield SettingInfo(group=group, name=item.name, default=item.default, **item.metadata)
