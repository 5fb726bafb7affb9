"""What every kind of job file is turned into first: sheets of rows of cells, not understood yet."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, cut, near_words, quote, tell_known
from chainplan.job.columns import columns_of, find_column, fold_heading

if TYPE_CHECKING:
    from collections.abc import Callable

    from chainplan.job.columns import Column


@dataclass(frozen=True, slots=True)
class Cell:
    """One value with the place it stands at; ``unit`` is the one its heading names."""

    value: object
    where: str
    unit: str = ""
    is_percent: bool = False  # a number that the spreadsheet shows as a percentage
    error: str = ""  # what is wrong with the cell itself, whatever its column
    cure: str = ""  # what helps against that error, besides writing the value
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
    short: str = ""  # the place within the file


@dataclass(frozen=True, slots=True)
class PlacedHeading:
    """One heading with its place, in the file and within the sheet."""

    text: str
    where: str
    short: str


@dataclass(frozen=True, slots=True)
class RawSheet:
    """One sheet; ``headings`` are empty where every row names its own keys."""

    name: str
    where: str
    rows: tuple[RawRow, ...]
    headings: tuple[PlacedHeading, ...] = ()
    is_told: bool = False  # a fault says already why it has no rows


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
    short: str = ""  # the place within the file

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
    unwarned: int = 0
    _seen: set[Fault | str] = field(default_factory=set)

    @property
    def count(self) -> int:
        """How many faults there are, told or not."""
        return len(self.faults) + self.untold

    def fault(self, where: str, found: str, allowed: str, hint: tuple[str, ...] = ()) -> None:
        """Note a fault; the same one is noted once."""
        if len(self.faults) >= BOUNDS.faults:
            self.untold += 1
            return
        self.add(Fault(where, found, allowed, hint))

    def add(self, fault: Fault) -> None:
        """Note a fault that is made already."""
        if fault in self._seen:
            return
        if len(self.faults) >= BOUNDS.faults:
            self.untold += 1
            return
        self._seen.add(fault)
        self.faults.append(fault)

    def unknown(self, where: str, found: str, word: str, known: Callable[[], list[str]]) -> None:
        """Note a word that is none of the known ones; the nearest is looked for if it is told."""
        if len(self.faults) >= BOUNDS.faults:
            self.untold += 1
            return
        words = known()
        self.fault(where, found, tell_known(words), near_words(word, words))

    def warn(self, text: str) -> None:
        """Note something the user should know that is no fault."""
        if text in self._seen:
            return
        if len(self.warnings) >= BOUNDS.faults:
            self.unwarned += 1
            return
        self._seen.add(text)
        self.warnings.append(text)

    def all_faults(self, where: str) -> tuple[Fault, ...]:
        """Return every fault, the last one saying how many are not told."""
        if not self.untold:
            return tuple(self.faults)
        found = f"{self.untold} further faults are not listed"
        return (*self.faults, Fault(where, found, "mend these first"))

    def all_warnings(self, where: str) -> tuple[str, ...]:
        """Return every warning, the last one saying how many are not told."""
        if not self.unwarned:
            return tuple(self.warnings)
        return (*self.warnings, f"{where}: {self.unwarned} further notes are not listed")


def match_rows(sheet: RawSheet, findings: Findings) -> list[Row]:
    """Match headings with the known columns; unknown, doubled and missing ones are faults."""
    _check_headings(sheet, findings)
    rows = []
    for raw in sheet.rows:
        cells: dict[str, Cell] = {}
        places: dict[str, str] = {}
        for heading, cell in raw.cells:
            match = find_column(sheet.name, heading)
            if match is None:
                if not sheet.headings:
                    _unknown_column(sheet.name, heading, cell.where, findings)
                continue
            column, unit = match
            places.setdefault(column.name, cell.where)
            if cell.is_blank:
                continue
            if cell.error:
                wanted = f"write {_wanted(column)}" + (f", or {cell.cure}" if cell.cure else "")
                findings.fault(cell.where, f"{column.name} {cell.error}", wanted)
            if column.name in cells:
                if not sheet.headings:  # of two columns the heading is told
                    found = f"{quote(heading)} gives {column.name!r} a second time"
                    findings.fault(cell.where, found, "give it once")
                continue
            cells[column.name] = replace(cell, unit=unit)
        if cells:
            by_key = not sheet.headings
            rows.append(Row(raw.where, cells, places, by_key=by_key, short=raw.short))
    return rows


def _wanted(column: Column) -> str:
    example = f", for example {column.example}" if column.example else ""
    return f"the {column.name} itself{example}"


def _check_headings(sheet: RawSheet, findings: Findings) -> None:
    if not sheet.headings:
        return
    seen: dict[str, PlacedHeading] = {}
    for heading in sheet.headings:
        match = find_column(sheet.name, heading.text)
        if match is None:
            _unknown_column(sheet.name, heading.text, heading.where, findings)
            continue
        name = match[0].name
        if name in seen:
            found = f"a second column {name!r}; the first is at {seen[name].short}"
            findings.fault(heading.where, found, "keep one of them")
        seen.setdefault(name, heading)
    for column in columns_of(sheet.name).values():
        if column.required == "yes" and column.name not in seen:
            found = f"there is no column {column.name!r}"
            findings.fault(sheet.where, found, f"it is needed: {column.meaning}")


def _unknown_column(sheet: str, heading: str, where: str, findings: Findings) -> None:
    if findings.untold:
        findings.untold += 1
        return
    known = columns_of(sheet)
    if len(heading) <= BOUNDS.note_letters:
        words = fold_heading(heading)
        for column in known.values():
            for name in (column.name, *column.aliases):
                base = fold_heading(name)
                if words.startswith(f"{base} ") and column.kind in {"length", "wire"}:
                    unit = quote(words.removeprefix(base).strip())
                    found = f"the heading {quote(heading)} has the unit {unit}, which is not known"
                    findings.fault(where, found, "lengths are in mm, cm, m or in")
                    return
    hint = near_words(heading, [*known, *(column.heading for column in known.values())])
    found = f"there is no column called {quote(heading)}"
    findings.fault(where, found, tell_known(known), hint)


def option(name: str) -> str:
    """Name the option of the command line for a column.

    Examples
    --------
    >>> option("second inner")
    '--second-inner'
    """
    return f"--{name.replace(' ', '-')}"


def key_shown(key: str) -> str:
    """Show a key or title in a place: short, and in quotes where it could be mistaken."""
    return cut(key) if key.isprintable() else quote(key)
