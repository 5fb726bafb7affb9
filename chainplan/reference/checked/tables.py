"""Read the reference tables in the folder `data`; every row carries its unit, source and mark."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal, near_words, quote, tell_known
from chainplan.reference.checked.check import Row, check_tables, plain_key
from chainplan.reference.checked.schema import MARKS

if TYPE_CHECKING:
    from collections.abc import Mapping

FOLDER = files("chainplan.reference") / "data"
"""Where the tables stand."""


@cache
def _tables() -> Mapping[str, tuple[Row, ...]]:
    tables, faults = check_tables(FOLDER)
    if faults:
        raise InputError(faults=faults)
    return tables


def read_table(name: str) -> tuple[Row, ...]:
    """Return one table as a tuple of rows, in the order of the file.

    Parameters
    ----------
    name : str
        File name without ending, such as ``"metals"``.

    Raises
    ------
    InputError
        If any table of the folder has faults: all of them at once.
    """
    return _tables()[name]


@cache
def _source_titles() -> dict[str, str]:
    return {row["key"]: row["title"] for row in read_table("sources")}


def source_text(row: Row) -> str:
    """Say where a row comes from, in words for people, with its note.

    Examples
    --------
    >>> source_text({"source": "leather", "mark": "M", "note": ""})
    'shrinkage temperature of leather, Heritage Science, 2019, table, from memory'
    """
    title = _source_titles()[row["source"]]
    mark = row["mark"]
    if mark == "C":
        plain = row["source"] in {"practice", "assumption"}
        words = "common practice, no source" if row["source"] == "practice" else "assumption"
        text = words if plain else f"common practice, no source (compare: {title})"
    else:
        text = f"{title}{MARKS[mark]}"
    note = row.get("note", "")
    return f"{text} ({note})" if note else text


@cache
def names_of(table: str, key_column: str) -> dict[str, str]:
    """Return every name and alias of a table's rows, in plain form, with the key it stands for."""
    names: dict[str, str] = {}
    for row in read_table(table):
        key = row[key_column]
        for word in (key, row["title"], *row["aliases"].split("|")):
            if word:
                names.setdefault(plain_key(word), key)
    return names


def unknown_word(word: str, names: dict[str, str], *, what: str) -> InputError:
    """Make the error for a word that is in no table, with the nearest known ones."""
    key = plain_key(word)
    hint = tuple(sorted({full for name, full in names.items() if key and key in name}))
    if not hint:
        hint = tuple(names[name] for name in near_words(key, sorted(set(names))))
    known = tell_known(sorted(set(names.values())))
    return InputError(Refusal("is not known", known, quote(word), what, hint))
