"""Keys: a digest of inputs written one way, so that equal inputs and no others share one."""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from typing import Any


def key_of(*inputs: object) -> str:
    """Digest inputs: frozen dataclasses, mappings, tuples, numbers, texts, dates.

    Raises
    ------
    TypeError
        For anything else: what cannot be written one way has no key.

    Examples
    --------
    >>> key_of(3) == key_of(3.0), key_of("a", "b") == key_of("ab"), key_of((1,)) == key_of((1,))
    (False, False, True)
    """
    text = json.dumps([written(item) for item in inputs], sort_keys=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def written(value: Any) -> Any:
    """Write a value as JSON that no other value shares: types are told, fields by name."""
    if value is None or isinstance(value, bool):
        return value
    if isinstance(value, Enum):
        return [type(value).__name__, value.name]
    if isinstance(value, str):
        return ["text", str(value)]
    if isinstance(value, bytes):
        return ["bytes", value.hex()]
    if isinstance(value, int):
        return ["whole", str(value)]
    if isinstance(value, float):
        return ["number", value.hex()]
    if isinstance(value, (Decimal, datetime.date)):
        return [type(value).__name__, str(value)]
    if is_dataclass(value) and not isinstance(value, type):
        named = {item.name: written(getattr(value, item.name)) for item in fields(value)}
        return [type(value).__name__, named]
    if isinstance(value, Mapping):
        return ["mapping", sorted([written(key), written(item)] for key, item in value.items())]
    if isinstance(value, (tuple, list)):
        return ["row", [written(item) for item in value]]
    if isinstance(value, frozenset):
        return ["set", sorted(json.dumps(written(item)) for item in value)]
    message = f"{type(value).__name__} has no key"
    raise TypeError(message)
