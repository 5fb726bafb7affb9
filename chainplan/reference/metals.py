"""Metals with their properties, each a low, usual and high value with its source."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal, quote
from chainplan.model.metal import Metal, MetalLimit, Value
from chainplan.reference.checked.check import plain_key
from chainplan.reference.checked.schema import PROPERTIES, TEMPERS
from chainplan.reference.checked.tables import names_of, read_table, source_text, unknown_word

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.reference.checked.check import Row


def _read_value(row: Row) -> Value:
    return Value(
        usual=float(row["usual"]),
        low=float(row["low"]),
        high=float(row["high"]),
        unit=row["unit"],
        source=source_text(row),
    )


def _read_limit(row: Row) -> MetalLimit:
    value = Value(
        usual=float(row["limit"]),
        low=float(row["low"]),
        high=float(row["high"]),
        unit=row["unit"],
        source=source_text(row),
    )
    return MetalLimit(
        effect=row["effect"],
        limit_c=value,
        fact=row["fact"],
        tempers=tuple(row["tempers"].split()),
    )


def _build_metal(names: Row, rows: list[Row]) -> Metal:
    values: dict[str, Value] = {}
    yields: dict[str, Value] = {}
    hardnesses: dict[str, Value] = {}
    for row in rows:
        if row["property"] == "yield":
            yields[row["temper"]] = _read_value(row)
        elif row["temper"]:
            hardnesses[row["temper"]] = _read_value(row)
        else:
            values[PROPERTIES[row["property"]].field] = _read_value(row)
    source = source_text(names)
    return Metal(
        key=names["metal"],
        title=names["title"],
        aliases=tuple(word for word in names["aliases"].split("|") if word),
        yield_mpa=yields,
        hardness_by_temper=hardnesses,
        weldability=names["weldability"],
        weld_note=names["weld_note"],
        fume_caution=names["fume_caution"],
        skin_caution=names["skin_caution"],
        precious=names["precious"],
        fineness=int(names["fineness"]) if names["fineness"] else None,
        notes={"weldability": source},
        limits=tuple(
            _read_limit(row) for row in read_table("metal_limits") if row["metal"] == names["metal"]
        ),
        **values,
    )


@cache
def metals() -> Mapping[str, Metal]:
    """Return every shipped metal by its key, in the order of the table.

    Examples
    --------
    >>> metals()["sterling-silver"].density_g_cm3.usual
    10.36
    """
    by_metal: dict[str, list[Row]] = {}
    for row in read_table("metals"):
        by_metal.setdefault(row["metal"], []).append(row)
    return {
        names["metal"]: _build_metal(names, by_metal[names["metal"]])
        for names in read_table("metal_names")
    }


def metal_keys() -> tuple[str, ...]:
    """Return the keys of the shipped metals, in the order of the table."""
    return tuple(row["metal"] for row in read_table("metal_names"))


def find_metal(name: str, own: Mapping[str, Metal] | None = None) -> Metal:
    """Find a metal by its key, title or another usual name.

    Parameters
    ----------
    name : str
        What the user wrote, such as ``"Sterling silver"``.
    own : mapping of str to Metal, optional
        The user's own metals by key; they come before the shipped ones.

    Raises
    ------
    InputError
        If no metal has that name (with the nearest ones), or if it must not be welded (with the
        reason).

    Examples
    --------
    >>> find_metal("Sterling").key
    'sterling-silver'
    """
    key = plain_key(name)
    for own_key, metal in (own or {}).items():
        if key in {plain_key(word) for word in (own_key, metal.title, *metal.aliases)}:
            return metal
    names = names_of("metal_names", "metal")
    if key in names:
        return metals()[names[key]]
    refused = names_of("refused_metals", "metal")
    if key in refused:
        row = next(r for r in read_table("refused_metals") if r["metal"] == refused[key])
        trouble = f"must not be welded: {row['reason']} ({source_text(row)})"
        raise InputError(Refusal(trouble, "choose a bare metal", quote(name), "metal"))
    known = names | {plain_key(word): word for word in own or {}}
    raise unknown_word(name, known, what="metal")


def own_value(
    usual: float, unit: str, *, low: float | None = None, high: float | None = None
) -> Value:
    """Make a value of a metal that the user entered; without a range it has none.

    Examples
    --------
    >>> own_value(8.4, "g/cm3").source
    'entered by the user'
    """
    return Value(
        usual=usual,
        low=usual if low is None else low,
        high=usual if high is None else high,
        unit=unit,
        source="entered by the user",
    )


def yield_of(metal: Metal, temper: str) -> Value:
    """Return a metal's yield strength in a temper, in MPa.

    Raises
    ------
    InputError
        If the metal's yield in that temper is not known.
    """
    key = plain_key(temper) or "annealed"
    if key not in metal.yield_mpa:
        known = ", ".join(metal.yield_mpa) or "none"
        found = f"the yield strength of {metal.title} in temper {quote(temper)} is not known"
        allowed = f"known tempers: {known}; or give the inner diameter instead of the mandrel"
        raise InputError(Refusal(found, allowed))
    return metal.yield_mpa[key]


def hardness_of(metal: Metal, temper: str) -> Value | None:
    """Return a metal's hardness in a temper, in GPa: that of the nearest softer one that is known.

    None if no hardness of the metal is known.

    Examples
    --------
    >>> gold = find_metal("24ct")
    >>> hardness_of(gold, "half-hard").usual, hardness_of(gold, "spring").usual
    (0.5, 0.8)
    """
    key = plain_key(temper) or TEMPERS[0]
    reached = TEMPERS[: TEMPERS.index(key) + 1] if key in TEMPERS else ()
    for softer in reversed(reached):
        if softer in metal.hardness_by_temper:
            return metal.hardness_by_temper[softer]
    return metal.hardness_gpa
