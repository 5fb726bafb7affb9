"""What results are: frozen, made by keywords, with room for their own fields alone."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar, dataclass_transform

Kind = TypeVar("Kind")


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(field,))
def frozen(cls: type[Kind]) -> type[Kind]:
    """Make a class a frozen dataclass whose fields are given by name.

    Examples
    --------
    >>> @frozen
    ... class Cut:
    ...     width_mm: float = 0.25
    >>> Cut(width_mm=0.3)
    Cut(width_mm=0.3)
    """
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)
