"""The one table of columns that drives reader, writers, starter workbook, README and messages.

A row of columns.csv says in ``field`` which field of which class of the job holds the column: with
that it is read, written and read again. Only a column without a field is read by hand.
"""

from __future__ import annotations

import csv
import functools
import re
from dataclasses import dataclass
from importlib import resources

from chainplan.bounds import BOUNDS

SHEETS = (
    "pieces", "fittings", "designs", "bench", "people", "machines", "prices", "stock", "parts",
    "metals", "recorded",
)  # fmt: skip
"""Sheets of a job file in their order; only ``pieces`` is required."""

OUR_OTHER_SHEETS = ("read me", "columns", "lists")
"""Sheets of the starter workbook that explain and are not read."""

TOML_TABLES = {
    "pieces": "piece",
    "fittings": "fitting",
    "designs": "design",
    "people": "person",
    "machines": "machine",
    "prices": "price",
    "stock": "stock",
    "parts": "part",
    "metals": "metal",
    "recorded": "recorded",
}
"""Name of the array of tables that holds a sheet's rows in a TOML job."""

_HEADING_UNITS = {
    "length": {"mm": "mm", "cm": "cm", "m": "m", "in": "in", "inch": "in", "inches": "in"},
    "wire": {"mm": "mm", "in": "in", "inch": "in", "inches": "in", "awg": "awg", "swg": "swg"},
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column of one sheet."""

    sheet: str
    name: str
    fields: tuple[tuple[str, str], ...]  # class and field that hold it in the job; () by hand
    aliases: tuple[str, ...]
    kind: str
    unit: str
    required: str  # "yes", "no" or when, such as "one of a or b"
    low: float | None
    high: float | None
    choices: tuple[str, ...]
    meaning: str
    example: str

    def field_of(self, holder: str) -> str | None:
        """Return the field of a class that holds this column, ``None`` if the class does not."""
        return dict(self.fields).get(holder)

    @property
    def heading(self) -> str:
        """The heading as the starter workbook writes it: name and unit."""
        return f"{self.name} {self.unit}" if self.unit else self.name

    @property
    def key(self) -> str:
        """The key as TOML writes it: words joined by underscores, a length with its unit."""
        words = self.heading if self.kind in _HEADING_UNITS else self.name
        return words.replace(" ", "_").replace("-", "_")

    def unit_in(self, heading: str) -> str | None:
        """Return the unit a heading names, "" for none, ``None`` if it is not this column's."""
        words = fold_heading(heading)
        for name in (self.name, *self.aliases):
            base = fold_heading(name)
            if words == base:
                return "" if self.kind in _HEADING_UNITS else self.unit
            if words.startswith(f"{base} "):
                rest = words.removeprefix(base).strip()
                if self.kind in _HEADING_UNITS:
                    unit = _HEADING_UNITS[self.kind].get(rest)
                    if unit:
                        return unit
                elif self.unit and rest in {fold_heading(self.unit), _spelled(self.unit)}:
                    return self.unit
        return None


def _spelled(unit: str) -> str:
    """Spell a unit with plain letters, as a heading or TOML key may: g/cm³ → g cm3."""
    for sign, letters in (("°", ""), ("³", "3"), ("/", " "), ("·", " "), ("(", ""), (")", "")):
        unit = unit.replace(sign, letters)
    return " ".join(unit.casefold().split())


def fold_heading(heading: str) -> str:
    """Fold capitals, underscores, hyphens, brackets and commas of a heading away.

    Examples
    --------
    >>> fold_heading("Clasp_length (mm)"), fold_heading("wire, mm")
    ('clasp length mm', 'wire mm')
    """
    return " ".join(re.sub(r"[_\-()\[\],:*]", " ", heading.casefold()).split())


@functools.cache
def columns() -> tuple[Column, ...]:
    """Return every column of every sheet, in the order in which they are written."""
    text = resources.files("chainplan.job").joinpath("columns.csv").read_text(encoding="utf-8")
    return tuple(
        Column(
            sheet=row["sheet"],
            name=row["column"],
            fields=tuple(_class_and_field(text) for text in _split(row["field"])),
            aliases=_split(row["aliases"]),
            kind=row["kind"],
            unit=row["unit"],
            required=row["required"],
            low=float(row["low"]) if row["low"] else None,
            high=float(row["high"]) if row["high"] else None,
            choices=_split(row["choices"]),
            meaning=row["meaning"],
            example=row["example"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def _class_and_field(text: str) -> tuple[str, str]:
    holder, _, name = text.partition(".")
    return holder, name


def _split(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split("|") if part.strip())


@functools.cache
def columns_of(sheet: str) -> dict[str, Column]:
    """Return the columns of one sheet by name."""
    return {column.name: column for column in columns() if column.sheet == sheet}


@functools.lru_cache(maxsize=4096)
def find_column(sheet: str, heading: str) -> tuple[Column, str] | None:
    """Find the column that a heading names, with the unit it names ("" for none)."""
    if len(heading) > BOUNDS.note_letters:
        return None
    for column in columns_of(sheet).values():
        unit = column.unit_in(heading)
        if unit is not None:
            return column, unit
    return None


def columns_markdown(sheet: str | None = None) -> str:
    """Write the columns of one sheet, or of all, as Markdown tables.

    Examples
    --------
    >>> print(columns_markdown("recorded").splitlines()[0])
    | column | unit | required | what it means | example |
    """
    if sheet is None:
        return "\n".join(f"**{name}**\n\n{columns_markdown(name)}" for name in SHEETS)
    lines = ["| column | unit | required | what it means | example |", "|---|---|---|---|---|"]
    for column in columns_of(sheet).values():
        meaning = column.meaning
        if column.choices:
            meaning = f"{meaning} ({', '.join(column.choices)})"
        cells = (column.name, column.unit, column.required, meaning, column.example)
        lines.append("| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |")
    return "\n".join(lines) + "\n"
