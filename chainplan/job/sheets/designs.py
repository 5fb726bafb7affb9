"""Reads the sheet of designs: which rings of a section are of which metal."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from chainplan.bounds import BOUNDS
from chainplan.errors import InputError, Refusal, near_words, quote, tell_known
from chainplan.job.fields import fields_given
from chainplan.job.files.drawn import read_grid, read_picture
from chainplan.job.sheets.rows import read_row
from chainplan.model.kinds import DesignLaid, DesignRule, Form
from chainplan.model.piece.design import OWN, Design, DesignLine, Span

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from chainplan.job.known_names import KnownNames
    from chainplan.job.table import Findings, Row
    from chainplan.model.piece.weave_names import WeaveName

Metals = tuple[tuple[str, str], ...]

_SPAN = re.compile(
    r"(?:every (?P<every>\d+)(?:st|nd|rd|th)?(?: from (?P<start>\d+))?"
    r"|last(?: (?P<back>\d+))?"
    r"|(?P<first>\d+)(?: ?(?:-|–|to) ?(?P<last>\d+|last))?"
    r"|(?P<all>all|rest))$"
)
_SPANS_TAKEN = "numbers such as '1-2, 5, last' or 'every 3rd from 2'"
_ACROSS = (DesignRule.ROWS, DesignRule.BORDER, DesignRule.CHECK, DesignRule.PICTURE)
"""Rules that only a strip or sheet has the rows for."""
_LETTERED = (DesignRule.LIST, DesignRule.GRID)


def read_designs(rows: list[Row], names: KnownNames, findings: Findings) -> dict[str, Design]:
    """Read the designs, by name as it was first written; rules stand in their order."""
    lines: dict[str, list[DesignLine]] = {}
    spelled: dict[str, str] = {}
    for row in rows:
        values = read_row("designs", row, findings)
        name = values["design"]
        if name is not None:
            name = spelled.setdefault(name.casefold(), name)
            lines.setdefault(name, [])
        line = _read_line(values | {"design": name}, row, names, findings)
        if line is not None and name is not None:
            lines[name].append(line)
    return {name: Design(name=name, lines=tuple(found)) for name, found in lines.items()}


def _read_line(
    values: dict[str, Any], row: Row, names: KnownNames, findings: Findings
) -> DesignLine | None:
    before = findings.count
    rule = None if values["rule"] is None else DesignRule(values["rule"])
    if rule is None:
        return None
    metals = _read_metals(values["metals"], rule, row, names, findings)
    for column, only in (("laid", (DesignRule.GRID, DesignRule.PICTURE)),
                         ("picture width", (DesignRule.PICTURE,))):  # fmt: skip
        if values[column] is not None and rule not in only:
            said = f"{column} is given for {rule}"
            findings.fault(row.place(column), said, f"only for {' and '.join(only)}: {row.drop}")
    if values["which"] is None or metals is None or values["design"] is None:
        return None
    try:
        held = _READERS[rule](values["which"], metals, names)
    except InputError as error:
        findings.add(error.at(row.place("which")))
        return None
    if findings.count > before:
        return None
    return DesignLine(
        **fields_given("designs", "DesignLine", values),
        metals=metals,
        where=row.place("which"),
        **held,
    )


def _read_metals(
    text: str | None, rule: DesignRule, row: Row, names: KnownNames, findings: Findings
) -> Metals | None:
    """Read metals, with a letter each where the rule draws with letters."""
    if text is None:
        return None
    found: list[tuple[str, str]] = []
    where, before = row.place("metals"), findings.count
    for word in (part.strip() for part in text.split(",")):
        letter, _, metal = word.partition(" ") if rule in _LETTERED else ("", "", word)
        letter, metal = letter.strip(" :="), metal.strip(" :=")
        if rule in _LETTERED and (len(letter) != 1 or not letter.isalnum() or not metal):
            said = f"{quote(word)} is no letter with its metal"
            findings.fault(where, said, "write such as 'A copper, B sterling-silver'")
            continue
        alloy = names.metal(metal, where, findings)
        if alloy is None:
            continue
        if letter and letter in [known for known, _ in found]:
            findings.fault(where, f"letter {letter!r} is there twice", "give each metal its own")
        found.append((letter, alloy.key))
    if findings.count > before:
        return None
    one = (DesignRule.PLACES, DesignRule.PARTS, DesignRule.ROWS, DesignRule.COLUMNS,
           DesignRule.BORDER)  # fmt: skip
    if rule in one and len(found) > 1:
        allowed = "one metal; write another row of the design for the next"
        findings.fault(where, f"{len(found)} metals for {rule}", allowed)
        return None
    if len(found) > BOUNDS.design_metals:
        allowed = f"at most {BOUNDS.design_metals} are taken"
        findings.fault(where, f"{len(found)} metals", allowed)
        return None
    return tuple(found)


def read_spans(text: str) -> tuple[Span, ...]:
    """Read numbers of places, rows or columns, counted from 1.

    Examples
    --------
    >>> read_spans("1-2, last")
    (Span(first=1, last=2, every=1), Span(first=-1, last=-1, every=1))
    >>> read_spans("every 3rd from 2")
    (Span(first=2, last=-1, every=3),)

    Raises
    ------
    InputError
        If a part of it is none.
    """
    spans = []
    for part in text.casefold().split(","):
        word = " ".join(part.split())
        match = _SPAN.match(word)
        if match is None:
            raise InputError(Refusal("is no number", _SPANS_TAKEN, quote(part.strip())))
        number = {key: int(value) for key, value in match.groupdict().items()
                  if value and value.isdigit()}  # fmt: skip
        if any(value < 1 for value in number.values()):
            raise InputError(Refusal("counts from 0", "counted from 1", quote(part.strip())))
        if "every" in number:
            spans.append(Span(first=number.get("start", 1), last=-1, every=number["every"]))
        elif match["all"]:
            spans.append(Span(first=1, last=-1))
        elif match["first"] is None:
            spans.append(Span(first=-number.get("back", 1), last=-1))
        else:
            last = -1 if match["last"] == "last" else number.get("last", number["first"])
            if 0 < last < number["first"]:
                raise InputError(Refusal("runs backwards", _SPANS_TAKEN, quote(part.strip())))
            spans.append(Span(first=number["first"], last=last))
    return tuple(spans)


def _spans(text: str, _metals: Metals, _names: KnownNames) -> dict[str, Any]:
    return {"spans": read_spans(text)}


def _parts(text: str, _metals: Metals, _names: KnownNames) -> dict[str, Any]:
    return {"parts": tuple(" ".join(word.split()).casefold() for word in text.split(","))}


def _list(text: str, metals: Metals, _names: KnownNames) -> dict[str, Any]:
    """Read letters, each perhaps with how often: AABBC, or A8 B8 C4."""
    letters = ""
    for sign, often in re.findall(r"([^\W\d]|\.|\S)\s*(\d*)", text):
        letters += sign * int(often or 1)
        if len(letters) > BOUNDS.design_cells:
            message = f"at most {BOUNDS.design_cells} letters are taken"
            raise InputError(Refusal("is too long", message, quote(text)))
    return {"cells": (cells_of(letters, metals),)}


def cells_of(letters: str, metals: Metals) -> bytes:
    """Turn letters into cells: a point or a space leaves a ring as it is.

    Raises
    ------
    InputError
        If a letter has no metal.
    """
    number = {letter: k for k, (letter, _) in enumerate(metals)} | {".": OWN, " ": OWN}
    for letter in letters:
        if letter not in number:
            known = [*number][:-2]
            near = tuple(word for word in known if word.casefold() == letter.casefold())
            allowed = f"letters with a metal are {', '.join(known)}; a point leaves a ring as it is"
            raise InputError(Refusal("has no metal", allowed, quote(letter), "letter", near))
    return bytes(number[letter] for letter in letters)


def _border(text: str, _metals: Metals, _names: KnownNames) -> dict[str, Any]:
    if not re.fullmatch(r"\d{1,5}", text.strip()) or int(text) < 1:
        raise InputError(Refusal("is no width", "rings from the edge, such as 2", quote(text)))
    return {"size": (int(text), int(text))}


def _check(text: str, _metals: Metals, _names: KnownNames) -> dict[str, Any]:
    match = re.fullmatch(r"(\d{1,5})\s*(?:x|×|by)\s*(\d{1,5})", text.strip().casefold())
    if match is None or not all(int(part) for part in match.groups()):
        allowed = "rows by rings of one field, such as 2 x 3"
        raise InputError(Refusal("is no size of a field", allowed, quote(text)))
    return {"size": (int(match[1]), int(match[2]))}


_APART = re.compile(r"\S?(?: \S)*")
"""Letters of a written grid with a space between each two, which then stands for no ring."""


def _grid(text: str, metals: Metals, names: KnownNames) -> dict[str, Any]:
    if re.search(r"\.(csv|xlsx)$", text.strip().casefold()):
        lines = read_grid(names.folder / text.strip(), text.strip(), names.files)
    else:
        lines = [line.strip() for line in re.split(r"[/\n]", text)]
        if all(_APART.fullmatch(line) for line in lines):
            lines = [line.replace(" ", "") for line in lines]
    widest = max(map(len, lines), default=0)
    if not widest:
        raise InputError(Refusal("has no letters", "a letter a ring, '.' leaves it as it is"))
    if widest * len(lines) > BOUNDS.design_cells:
        message = f"at most {BOUNDS.design_cells} letters are taken"
        raise InputError(Refusal("is too large", message, quote(text)))
    return {"cells": tuple(cells_of(line.ljust(widest, "."), metals) for line in lines)}


def _picture(text: str, metals: Metals, names: KnownNames) -> dict[str, Any]:
    keys = [metal for _, metal in metals]
    return {"cells": read_picture(names.folder / text.strip(), text.strip(), keys, names.files)}


_READERS: dict[DesignRule, Callable[[str, Metals, KnownNames], dict[str, Any]]] = {
    DesignRule.PLACES: _spans,
    DesignRule.ROWS: _spans,
    DesignRule.COLUMNS: _spans,
    DesignRule.PARTS: _parts,
    DesignRule.LIST: _list,
    DesignRule.BORDER: _border,
    DesignRule.CHECK: _check,
    DesignRule.GRID: _grid,
    DesignRule.PICTURE: _picture,
}


def find_design(
    text: str, row: Row, designs: Mapping[str, Design], findings: Findings
) -> Design | None:
    """Find a design by its name, whatever its capitals; tell it if there is none."""
    for name, design in designs.items():
        if name.casefold() == text.casefold():
            return design
    where = row.place("design")
    if not designs:
        allowed = "write its rules in the sheet 'designs'"
        findings.fault(where, f"design {quote(text)} is not there", allowed)
    else:
        hint = near_words(text, designs)
        findings.fault(where, f"design {quote(text)} is not there", tell_known(designs), hint)
    return None


def check_design(
    design: Design, weave: WeaveName, rows: int | None, row: Row, findings: Findings
) -> None:
    """Tell what a design asks for that a section does not have: rows, places, parts."""
    if weave.form == Form.LOOSE:
        findings.fault(row.place("design"), "a design of loose joins", f"{row.drop}: no weave")
        return
    for line in design.lines:
        text = f"rule {line.rule!s} of design {quote(design.name)} for {weave.key}"
        if line.rule in _ACROSS and weave.form == Form.CHAIN:
            allowed = "a chain takes place in repeat, list along, columns, part, or a grid of a row"
            findings.fault(line.where, f"{text}, which is a chain", allowed)
        elif line.rule == DesignRule.PARTS and weave.rings:
            known = list(weave.parts)
            for part in line.parts:
                if part not in known:
                    allowed = tell_known(known) if known else "its weave file names no parts"
                    said = f"{quote(part)} is no part of {weave.key}"
                    findings.fault(line.where, said, allowed, near_words(part, known))
        elif line.rule == DesignRule.PLACES and weave.rings:
            rings = "ring" if weave.rings == 1 else "rings"
            what = f"{weave.rings} {rings} in a repeat of {weave.key}"
            hint = "; the rule 'list along', such as AAB, goes on from one repeat to the next"
            _check_numbers(line, weave.rings, what, findings, hint)
        elif line.rule == DesignRule.ROWS and rows:
            what = f"{rows} {'row' if rows == 1 else 'rows'} of {quote(design.name)}'s piece"
            _check_numbers(line, rows, what, findings)
        elif line.rule == DesignRule.GRID and line.laid == DesignLaid.ONCE:
            have = 1 if weave.form == Form.CHAIN else rows
            if have and len(line.cells) > have:
                said = f"a grid of {len(line.cells)} rows on a piece of {have}"
                findings.fault(line.where, said, f"at most {have} rows")


def _check_numbers(
    line: DesignLine, most: int, what: str, findings: Findings, hint: str = ""
) -> None:
    for span in line.spans:
        beyond = max(abs(span.first), abs(span.last))
        if beyond > most:
            found = f"number {beyond} where there {'is' if most == 1 else 'are'} {what}"
            findings.fault(line.where, found, ("1" if most == 1 else f"1 to {most}") + hint)
