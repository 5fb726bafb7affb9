"""Writes a job as TOML: the same content as the workbook, for people who script."""

from __future__ import annotations

import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from chainplan.job.columns import SHEETS, TOML_TABLES, columns_of
from chainplan.job.sheets.bench import JOB_GROUP

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from chainplan.job.written.content import Content


def toml_text(content: Content) -> str:
    """Write rows as TOML, sheet by sheet, in the order of the table of columns."""
    bench = content.get("bench", ())
    blocks = [f"start_date = {_value(r['value'])}\n" for r in bench if r["group"] == JOB_GROUP]
    for sheet in SHEETS:
        if sheet == "bench":
            blocks += _bench_blocks([row for row in bench if row["group"] != JOB_GROUP])
        else:
            blocks += _table_blocks(sheet, content.get(sheet, ()))
    return "\n".join(blocks)


def _bench_blocks(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    groups: dict[str, list[str]] = {}
    for row in rows:
        name = str(row["setting"]).replace(" ", "_")
        groups.setdefault(row["group"], []).append(f"{name} = {_value(row['value'])}\n")
    return [f"[bench.{group}]\n{''.join(lines)}" for group, lines in groups.items()]


def _table_blocks(sheet: str, rows: Sequence[Mapping[str, Any]]) -> list[str]:
    blocks = []
    for row in rows:
        lines = [f"[[{TOML_TABLES[sheet]}]]\n"]
        for column in columns_of(sheet).values():
            value = row.get(column.name)
            if value is None:
                continue
            words = column.name if isinstance(value, str) else column.key
            key = words.replace(" ", "_").replace("-", "_")
            lines.append(f"{key} = {_value(value)}\n")
        blocks.append("".join(lines))
    return blocks


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value)
    if isinstance(value, Decimal):
        plain = f"{value:f}"
        return plain if "." in plain else f"{plain}.0"
    if isinstance(value, datetime.date):
        return value.isoformat()
    return quoted(str(value))


def quoted(text: str) -> str:
    r"""Quote text as a TOML basic string.

    Examples
    --------
    >>> print(quoted('a "b"\n'))
    "a \"b\"\n"
    """
    short = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}
    signs = [
        short.get(sign) or (f"\\u{ord(sign):04X}" if ord(sign) < 32 or ord(sign) == 127 else sign)
        for sign in text
    ]
    return f'"{"".join(signs)}"'
