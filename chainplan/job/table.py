"""What every kind of job file is turned into first: sheets of rows of cells, not understood yet."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from chainplan.errors import Fault, did_you_mean
from chainplan.job.columns import columns_of, find_column, fold_heading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chainplan.job.columns import Column

MOST_FAULTS = 200
"""Faults told in full; a file with more has one cause, and the rest is only counted."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One value with the place it stands at; ``unit`` is the one its heading names."""

    value: object
    where: str
    unit: str = ""
    is_percent: bool = False  # a number that the spreadsheet shows as a percentage
    error: str = ""  # what is wrong with the cell itself, whatever its column
    by_words: bool = False  # a word of its own, in no column

    @property
    def is_blank(self) -> bool:
        """Whether there is nothing in the cell."""
        if self.error:
            return False
        return self.value is None or (isinstance(self.value, str) and not self.value.strip())


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row: headings with cells, in the order of the file."""

    where: str
    cells: tuple[tuple[str, Cell], ...]


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet; ``headings`` are (text, place), empty where every row names its own keys."""

    name: str
    where: str
    rows: tuple[RawRow, ...]
    headings: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class RawJob:
    """A job file as it stands."""

    sheets: dict[str, RawSheet]
    sha256: str = ""
    others: tuple[str, ...] = ()  # titles of sheets that are not read


@dataclass(frozen=True, slots=True)
class Row:
    """One row with its cells by column name; blank cells are left out."""

    where: str
    cells: dict[str, Cell]
    places: dict[str, str] = field(default_factory=dict)  # of every column that is there
    by_key: bool = True  # each row names its own columns, as in TOML
    by_words: bool = False  # single words, as a command line gives them: there are no columns

    def ask(self, name: str, what: str = "it") -> str:
        """Say how to give what is missing: in its column, or as a word of its own."""
        if self.by_words:
            return f"give {name if what == 'it' else what} ({option(name)})"
        return f"write {what} in the column {name!r}"

    @property
    def drop(self) -> str:
        """Say how to give nothing."""
        return "leave it out" if self.by_words else "leave it empty"

    def get(self, name: str) -> Cell | None:
        """Return the cell of a column, or ``None`` if it is blank; its error has been told."""
        return self.cells.get(name)

    def place(self, name: str) -> str:
        """Say where the cell of a column stands, or the row if there is no such column."""
        return self.places.get(name, self.where)

    def may_hold(self, name: str) -> bool:
        """Say whether the row could hold a column: where its heading is missing, no row can."""
        return self.by_key or name in self.places


@dataclass(slots=True)
class Findings:
    """The faults and warnings gathered while a file is read."""

    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    untold: int = 0

    def fault(self, where: str, found: str, allowed: str) -> None:
        """Note a fault; the same one is noted once."""
        fault = Fault(where, found, allowed)
        if fault in self.faults:
            return
        if len(self.faults) >= MOST_FAULTS:
            self.untold += 1
            return
        self.faults.append(fault)

    def warn(self, text: str) -> None:
        """Note something the user should know that is no fault."""
        if text not in self.warnings:
            self.warnings.append(text)

    def all_faults(self, where: str) -> tuple[Fault, ...]:
        """Return every fault, the last one saying how many are not told."""
        if not self.untold:
            return tuple(self.faults)
        found = f"{self.untold} further faults are not listed"
        return (*self.faults, Fault(where, found, "mend these first"))


def match_rows(sheet: RawSheet, findings: Findings) -> list[Row]:
    """Match headings with the known columns; unknown, doubled and missing ones are faults."""
    known: dict[str, tuple[Column, str] | None] = {}
    _check_headings(sheet, findings)
    rows = []
    for raw in sheet.rows:
        cells: dict[str, Cell] = {}
        places: dict[str, str] = {}
        for heading, cell in raw.cells:
            if heading not in known:
                known[heading] = find_column(sheet.name, heading)
            match = known[heading]
            if match is None:
                if not sheet.headings:
                    _unknown_column(sheet.name, heading, cell.where, findings)
                continue
            column, unit = match
            places.setdefault(column.name, cell.where)
            if cell.is_blank:
                continue
            if cell.error:
                wanted = f"write {_wanted(column)}"
                if "saved value" in cell.error:
                    wanted += ", or open and save the file in a spreadsheet program first"
                findings.fault(cell.where, f"{column.name} {cell.error}", wanted)
            if column.name in cells and not sheet.headings:
                found = f"{heading!r} gives {column.name!r} a second time"
                findings.fault(cell.where, found, "give it once")
                continue
            cells.setdefault(
                column.name,
                Cell(cell.value, cell.where, unit, is_percent=cell.is_percent, error=cell.error),
            )
        if cells:
            rows.append(Row(raw.where, cells, places, by_key=not sheet.headings))
    return rows


def _wanted(column: Column) -> str:
    example = f", for example {column.example}" if column.example else ""
    return f"the {column.name} itself{example}"


def _check_headings(sheet: RawSheet, findings: Findings) -> None:
    if not sheet.headings:
        return
    seen: dict[str, str] = {}
    for heading, where in sheet.headings:
        match = find_column(sheet.name, heading)
        if match is None:
            _unknown_column(sheet.name, heading, where, findings)
            continue
        name = match[0].name
        if name in seen:
            found = f"a second column {name!r}; the first is at {seen[name].rpartition(' › ')[2]}"
            findings.fault(where, found, "keep one of them")
        seen.setdefault(name, where)
    for column in columns_of(sheet.name).values():
        if column.required == "yes" and column.name not in seen:
            found = f"there is no column {column.name!r}"
            findings.fault(sheet.where, found, f"it is needed: {column.meaning}")


def _unknown_column(sheet: str, heading: str, where: str, findings: Findings) -> None:
    for column in columns_of(sheet).values():
        for name in (column.name, *column.aliases):
            words, base = fold_heading(heading), fold_heading(name)
            if words.startswith(f"{base} ") and column.kind in {"length", "wire"}:
                unit = words.removeprefix(base).strip()
                found = f"the heading {heading!r} has the unit {unit!r}, which is not known"
                findings.fault(where, found, "lengths are in mm, cm, m or in")
                return
    names = list(columns_of(sheet))
    hint = nearest(heading, [*names, *(column.heading for column in columns_of(sheet).values())])
    if hint.startswith("known"):
        hint = f"known: {', '.join(names)}"
    findings.fault(where, f"there is no column called {shorten(heading)!r}", hint)


def nearest(word: str, known: Sequence[str]) -> str:
    """Hint at the known word that was meant: the same letters first, then the most alike.

    Examples
    --------
    >>> nearest("peice", ["price", "piece"])
    "did you mean 'piece'?"
    """
    letters = sorted(word.casefold())
    for choice in known:
        if sorted(choice.casefold()) == letters:
            return f"did you mean {choice!r}?"
    return did_you_mean(word, known)


def option(name: str) -> str:
    """Name the option of the command line for a column.

    Examples
    --------
    >>> option("second inner")
    '--second-inner'
    """
    return f"--{name.replace(' ', '-')}"


def shorten(text: str, most: int = 40) -> str:
    """Cut what is shown of a long text."""
    return text if len(text) <= most else f"{text[: most - 1]}…"
