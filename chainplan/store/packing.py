"""Results as bytes and back: frozen results of this package, arrays and plain values, nothing else.

A text of JSON says what there is, the arrays follow one after another, and a digest stands before
both. Only classes of this package that hold data are ever made, so a foreign file can do no harm.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from functools import cache
from importlib import import_module
from typing import Any

import numpy as np

HEAD = b"chainplan kept result 1\n"


class NotReadable(ValueError):
    """Bytes that are damaged, or were written by other code."""


def pack(value: object) -> bytes:
    """Write a result as bytes.

    Raises
    ------
    TypeError
        If it holds something that is not for keeping.
    """
    arrays: list[np.ndarray[Any, Any]] = []
    tree = json.dumps(_tree_of(value, arrays, {})).encode()
    shapes = json.dumps([[item.dtype.str, item.shape] for item in arrays]).encode()
    lengths = f"{len(tree)} {len(shapes)}\n".encode()
    body = b"".join([lengths, tree, shapes, *(item.tobytes() for item in arrays)])
    return HEAD + hashlib.sha256(body).hexdigest().encode() + b"\n" + body


def digest(value: object) -> str:
    """Digest a result by what it says: equal results have one digest, whatever they share inside.

    Raises
    ------
    TypeError
        If it holds something that is not for keeping.
    """
    arrays: list[np.ndarray[Any, Any]] = []
    whole = hashlib.sha256(json.dumps(_tree_of(value, arrays, None)).encode())
    for item in arrays:
        whole.update(f"{item.dtype.str} {item.shape}\n".encode())
        whole.update(np.ascontiguousarray(item).data)
    return whole.hexdigest()


def unpack(data: bytes) -> Any:
    """Read a result from its bytes.

    Raises
    ------
    NotReadable
        If they are damaged, or name classes or fields that this version does not have.
    """
    try:
        if not data.startswith(HEAD):
            message = "no kept result"
            raise NotReadable(message)
        digest, body = data[len(HEAD) : len(HEAD) + 64], memoryview(data)[len(HEAD) + 65 :]
        if hashlib.sha256(body).hexdigest().encode() != digest:
            message = "damaged"
            raise NotReadable(message)
        first = bytes(body[:60]).split(b"\n", 1)[0]
        tree_size, shapes_size = (int(word) for word in first.split())
        begin = len(first) + 1
        shapes = json.loads(bytes(body[begin + tree_size : begin + tree_size + shapes_size]))
        place, arrays = begin + tree_size + shapes_size, []
        for kind, shape in shapes:
            count = int(np.prod(shape, dtype=np.int64))
            flat = np.frombuffer(body, dtype=kind, count=count, offset=place)
            arrays.append(flat.reshape(shape).copy())
            place += flat.nbytes
        return _value_of(json.loads(bytes(body[begin : begin + tree_size])), arrays)
    except (ValueError, KeyError, TypeError, LookupError, AttributeError, ImportError) as error:
        raise NotReadable(str(error)) from error


def _tree_of(value: Any, arrays: list[np.ndarray[Any, Any]], known: dict[int, int] | None) -> Any:
    """Describe a value as JSON; arrays go into the list, each once, or again if none is known."""
    if isinstance(value, Enum):
        return {"e": [_path_of(type(value)), value.name]}
    if isinstance(value, np.generic):
        return {"g": [value.dtype.str, value.item()]}
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    if isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            message = "arrays of objects are not for keeping"
            raise TypeError(message)
        if known is None:
            arrays.append(value)
            return {"a": len(arrays) - 1}
        if id(value) not in known:
            known[id(value)] = len(arrays)
            arrays.append(value)
        return {"a": known[id(value)]}
    if isinstance(value, frozenset):  # in an order of its own, not in that of this process
        return {"s": sorted((_tree_of(item, arrays, known) for item in value), key=json.dumps)}
    if isinstance(value, (tuple, list)):
        name = {tuple: "t", list: "l"}[type(value)]
        return {name: [_tree_of(item, arrays, known) for item in value]}
    if isinstance(value, Mapping):
        pairs = value.items()
        return {"d": [[_tree_of(k, arrays, known), _tree_of(v, arrays, known)] for k, v in pairs]}
    if isinstance(value, Decimal):
        return {"m": str(value)}
    if isinstance(value, bytes):
        return {"b": value.hex()}
    if isinstance(value, datetime.date):
        return {"y": value.isoformat()}
    if is_dataclass(value) and not isinstance(value, type):
        kind: type = type(value)
        named = {n: _tree_of(getattr(value, n), arrays, known) for n in _kept_fields(kind)}
        return {"c": [_path_of(kind), named]}
    message = f"{type(value).__name__} is not for keeping"
    raise TypeError(message)


def _value_of(tree: Any, arrays: list[np.ndarray[Any, Any]]) -> Any:
    """Make the value that a description tells of."""
    if not isinstance(tree, dict):
        return tree
    ((kind, told),) = tree.items()
    if kind == "a":
        return arrays[told]
    if kind == "c":
        return _class_at(told[0])(**{n: _value_of(item, arrays) for n, item in told[1].items()})
    if kind == "e":
        return _class_at(told[0])[told[1]]
    if kind == "g":
        return np.dtype(told[0]).type(told[1])
    if kind == "b":
        return bytes.fromhex(told)
    if kind == "m":
        return Decimal(told)
    if kind == "y":
        return datetime.date.fromisoformat(told)
    if kind == "d":
        return {_value_of(key, arrays): _value_of(item, arrays) for key, item in told}
    return {"t": tuple, "l": list, "s": frozenset}[kind](_value_of(item, arrays) for item in told)


@cache
def _kept_fields(kind: type) -> tuple[str, ...]:
    """Fields that make a result; what it works out again by itself begins with an underscore."""
    return tuple(item.name for item in fields(kind) if item.init and not item.name.startswith("_"))


def _path_of(kind: type) -> str:
    return f"{kind.__module__}:{kind.__qualname__}"


@cache
def _class_at(path: str) -> Any:
    """Find a class of this package that holds data."""
    module, _, name = path.partition(":")
    if not module.startswith("chainplan.") or "." in name:
        raise NotReadable(path)
    kind = getattr(import_module(module), name)
    if not (isinstance(kind, type) and (is_dataclass(kind) or issubclass(kind, Enum))):
        raise NotReadable(path)
    return kind
