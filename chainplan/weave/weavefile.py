"""Reading a weave file: every fault is found at once, each with the name of its field.

A weave file is TOML. All of its fields:

======================  ==========================================================================
``key``                 short name in lower case with hyphens, the file's own name
``title``               what makers call it
``trade_names``         list of other names it goes by
``family``              which weaves it belongs with
``form``                "chain" or "sheet" (strips are cut from a sheet)
``turn_deg``            turn about the chain's axis (x) per repeat; optional, 0
``notes``, ``source``   text: what to know, and what the name and the pattern rest on ("no source"
                        where that is trade use alone)
``classes``             tables with ``name``, ``wire_ratio``, ``inner_ratio``; optional, one size
``rings``               one table a ring of the repeat with ``class``, a name; optional
``parts``               a name a ring of the repeat, such as connector or knot; optional
``links``               ``[i, j, along]`` or ``[i, j, along, across]``: ring i passes through ring j
                        of the repeat that many repeats further
``seed``                ``aspect_ratio``; ``rings``, a row ``[cx, cy, cz, nx, ny, nz]`` each (centre
                        and normal in wire diameters of class 0); ``vectors``, one row for a chain
                        (along x), two for a sheet (the second in the x–y plane); optional
                        ``free_turn`` (the turn is solved for), ``free_shear`` (the second vector
                        may lean), ``stretch`` (how a sheet is pulled: along, across, area)
``invariants``          checks that tell it from another weave of the same links; optional
======================  ==========================================================================
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, TypeGuard

import numpy as np

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, cut, near_words, quote, tell_known
from chainplan.model.kinds import Form
from chainplan.model.piece.weave import RingClass, Weave
from chainplan.weave.shape.invariants import CHECK_FIELDS

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

FORMS = (Form.CHAIN, Form.SHEET)
STRETCHES = ("along", "across", "area")
_TEXT_FIELDS = ("key", "title", "family", "form", "source")
_REQUIRED = (*_TEXT_FIELDS, "trade_names", "links", "seed")
_KNOWN = (*_REQUIRED, "turn_deg", "notes", "classes", "rings", "parts", "invariants")
_SEED_KNOWN = ("aspect_ratio", "rings", "vectors", "free_turn", "free_shear", "stretch")
_CLASS_KNOWN = ("name", "wire_ratio", "inner_ratio")


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _is_row(value: object, length: int) -> bool:
    return isinstance(value, list) and len(value) == length and all(map(_is_number, value))


def _is_index_row(value: object, lengths: Iterable[int]) -> bool:
    return (
        isinstance(value, list)
        and len(value) in lengths
        and all(isinstance(v, int) and not isinstance(v, bool) and abs(v) < 100 for v in value)
    )


class FileReader:
    """Collects every fault of one weave file while it is read."""

    def __init__(self, raw: Mapping[str, object], where: str) -> None:
        self.raw = raw
        self.where = where
        self.faults: list[Fault] = []

    def note(self, field: str, found: str, allowed: str, hint: tuple[str, ...] = ()) -> None:
        """Add a fault of a field."""
        if len(self.faults) >= BOUNDS.faults:
            return
        self.faults.append(Fault(f"{self.where}: {cut(field)}", found, allowed, hint))

    def note_word(self, field: str, found: str, word: str, known: Iterable[str]) -> None:
        """Add a fault of a word that is none of the known ones, with the nearest."""
        words = list(known)
        self.note(field, found, tell_known(words), near_words(word, words))

    def refuse_unknown(self, found: Iterable[str], known: Iterable[str], prefix: str = "") -> None:
        """Add a fault for every field that nobody reads."""
        for name in found:
            if name not in known:
                self.note_word(f"{prefix}{name}", "unknown field", name, known)

    def read_tables(self, field: str, value: object) -> list[dict[str, object]]:
        """Check that a field is a list of tables; returns them, or none where it is not."""
        if not isinstance(value, list) or not all(isinstance(table, dict) for table in value):
            self.note(field, quote(value), f"expected [[{field}]] tables")
            return []
        return value

    def read_text(self) -> None:
        """Check the fields that are words."""
        for name in _REQUIRED:
            if name not in self.raw:
                self.note(name, "missing", "every weave file needs it")
        for name in (*_TEXT_FIELDS, "notes"):
            value = self.raw.get(name, "x")
            if not isinstance(value, str) or not value.strip():
                self.note(name, quote(value), "expected some text in quotes")
            elif len(value) > BOUNDS.note_letters:
                allowed = f"at most {BOUNDS.note_letters} are taken"
                self.note(name, f"a text of {len(value)} letters", allowed)
        key = self.raw.get("key")
        if isinstance(key, str) and not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key):
            self.note("key", quote(key), "expected lower-case words and figures with hyphens")
        form = self.raw.get("form")
        if isinstance(form, str) and form not in FORMS:
            self.note_word("form", quote(form), form, FORMS)
        names = self.raw.get("trade_names", [])
        if not isinstance(names, list) or not all(isinstance(n, str) and n for n in names):
            self.note("trade_names", quote(names), "expected a list of names in quotes")

    def read_classes(self) -> tuple[RingClass, ...]:
        """Read the ring sizes; one size when the file names none."""
        tables = self.read_tables("classes", self.raw.get("classes", [{"name": "ring"}]))
        classes = []
        for number, table in enumerate(tables):
            prefix = f"classes[{number}]."
            self.refuse_unknown(table, _CLASS_KNOWN, prefix)
            name = table.get("name")
            if not isinstance(name, str) or not name:
                self.note(f"{prefix}name", quote(name), "expected a name in quotes")
                name = f"#{number}"
            ratios = []
            for field in _CLASS_KNOWN[1:]:
                value = table.get(field, 1.0)
                if not _is_number(value) or value <= 0 or (number == 0 and value != 1):
                    allowed = "expected a number above 0, and 1 for the first class"
                    self.note(f"{prefix}{field}", quote(value), allowed)
                    value = 1.0
                ratios.append(float(value))
            classes.append(RingClass(name=name, wire_ratio=ratios[0], inner_ratio=ratios[1]))
        return tuple(classes)

    def read_seed(self) -> int:
        """Check the seed; returns its number of rings (0 when it cannot be told)."""
        seed = self.raw.get("seed")
        if not isinstance(seed, dict):
            if "seed" in self.raw:
                self.note("seed", quote(seed), "expected a [seed] table")
            return 0
        self.refuse_unknown(seed, _SEED_KNOWN, "seed.")
        ratio = seed.get("aspect_ratio")
        if not _is_number(ratio) or ratio <= 1:
            self.note(
                "seed.aspect_ratio", quote(ratio), "expected inner over wire diameter, above 1"
            )
        for name in ("free_turn", "free_shear"):
            if not isinstance(seed.get(name, False), bool):
                self.note(f"seed.{name}", quote(seed[name]), "expected true or false")
        stretch = seed.get("stretch", "along")
        if stretch not in STRETCHES:
            self.note_word("seed.stretch", quote(stretch), str(stretch), STRETCHES)
        rows = seed.get("rings")
        if not isinstance(rows, list) or not rows:
            self.note("seed.rings", quote(rows), "expected a row [cx, cy, cz, nx, ny, nz] a ring")
            return 0
        if len(rows) > BOUNDS.weave_rings:
            allowed = f"a repeat has at most {BOUNDS.weave_rings}"
            self.note("seed.rings", f"{len(rows)} rings", allowed)
            return 0
        for number, row in enumerate(rows):
            if not _is_row(row, 6):
                self.note(f"seed.rings[{number}]", quote(row), "expected [cx, cy, cz, nx, ny, nz]")
            elif math.hypot(*row[3:]) < 1e-6:
                self.note(f"seed.rings[{number}]", "a normal of no length", "expected a direction")
        self.read_vectors(seed.get("vectors"))
        return len(rows)

    def read_vectors(self, vectors: object) -> None:
        """Check the repeat vectors against the form."""
        wanted = 2 if self.raw.get("form") == Form.SHEET else 1
        if (
            not isinstance(vectors, list)
            or len(vectors) != wanted
            or not all(_is_row(v, 3) for v in vectors)
        ):
            allowed = f"expected {wanted} row(s) [x, y, z] for this form"
            self.note("seed.vectors", quote(vectors), allowed)
            return
        first = vectors[0]
        if first[0] <= 0 or first[1] != 0 or first[2] != 0:
            self.note(
                "seed.vectors[0]", quote(first), "expected [length, 0, 0]: chains lie along x"
            )
        if wanted == 2 and (vectors[1][1] <= 0 or vectors[1][2] != 0):
            allowed = "expected [lean, width, 0], width > 0"
            self.note("seed.vectors[1]", quote(vectors[1]), allowed)

    def read_rings(self, count: int, classes: tuple[RingClass, ...]) -> tuple[int, ...]:
        """Read which size each ring has."""
        if "rings" not in self.raw:
            return (0,) * count
        tables = self.read_tables("rings", self.raw["rings"])
        if count and len(tables) != count:
            allowed = f"expected {count}, one for each row of seed.rings"
            self.note("rings", f"{len(tables)} tables", allowed)
            return (0,) * count
        names = [size.name for size in classes]
        numbers = []
        for number, table in enumerate(tables):
            self.refuse_unknown(table, ("class",), f"rings[{number}].")
            name = table.get("class", names[0] if names else "")
            if name not in names:
                self.note_word(f"rings[{number}].class", quote(name), str(name), names)
                name = names[0] if names else ""
            numbers.append(names.index(name) if name in names else 0)
        return tuple(numbers)

    def read_parts(self, count: int) -> tuple[str, ...]:
        """Read what each ring of the repeat is called in designs."""
        names = self.raw.get("parts", [])
        if not isinstance(names, list) or not all(isinstance(n, str) for n in names):
            self.note("parts", quote(names), "expected a list of names in quotes")
            return ()
        if names and count and len(names) != count:
            self.note("parts", f"{len(names)} names", f"expected {count}, one a ring of the repeat")
            return ()
        return tuple(" ".join(name.split()).casefold() for name in names)

    def read_links(self, count: int) -> np.ndarray:
        """Read the declared links, each once and from the ring to one no further back."""
        rows = self.raw.get("links", [])
        empty = np.zeros((0, 4), dtype=np.int32)
        if not isinstance(rows, list) or (not rows and "links" in self.raw):
            self.note("links", quote(rows), "expected rows [i, j, along]")
            return empty
        if len(rows) > BOUNDS.weave_links:
            self.note("links", f"{len(rows)} links", f"a repeat has at most {BOUNDS.weave_links}")
            return empty
        seen: dict[tuple[int, int, int, int], int] = {}
        for number, row in enumerate(rows):
            where = f"links[{number}]"
            if not _is_index_row(row, (3, 4)):
                self.note(where, quote(row), "expected whole numbers [i, j, along] or … across]")
                continue
            i, j, along, across = (*row, 0)[:4]
            if count and not (0 <= i < count and 0 <= j < count):
                self.note(where, f"ring {i} or {j}", f"rings are numbered 0 to {count - 1}")
                continue
            if i == j and along == 0 and across == 0:
                self.note(where, quote(row), "a ring cannot pass through itself")
                continue
            if across and self.raw.get("form") != Form.SHEET:
                self.note(where, quote(row), "only a sheet repeats across")
            link = (i, j, along, across)
            if (along, across, j - i) < (0, 0, 0):
                link = (j, i, -along, -across)
            if link in seen:
                self.note(where, quote(row), f"says the same link as links[{seen[link]}]")
            seen.setdefault(link, number)
        return np.array(sorted(seen), dtype=np.int32).reshape(-1, 4)

    def read_invariants(self, count: int) -> None:
        """Check that each asked-for check is known and complete."""
        rules = self.read_tables("invariants", self.raw.get("invariants", []))
        for number, rule in enumerate(rules):
            prefix = f"invariants[{number}]."
            check = rule.get("check")
            if not isinstance(check, str) or check not in CHECK_FIELDS:
                self.note_word(f"{prefix}check", quote(check), str(check), CHECK_FIELDS)
                continue
            fields = CHECK_FIELDS[check]
            self.refuse_unknown(rule, ("check", "meaning", *fields), prefix)
            for field in fields:
                self.read_rule_field(prefix + field, field, rule.get(field), count)

    def read_rule_field(self, where: str, field: str, value: object, count: int) -> None:
        """Check one field of a check: a number, a ring or a list of rings."""
        if field in ("sign", "min_deg", "max_deg"):
            if not _is_number(value) or (field == "sign" and value not in (-1, 1)):
                allowed = "expected 1 or -1" if field == "sign" else "expected degrees"
                self.note(where, quote(value), allowed)
            return
        rings = [value] if field == "ring" else value
        least = {"ring": 1, "pair": 2, "rings": 3}[field]
        if (
            not isinstance(rings, list)
            or len(rings) < least
            or (field == "pair" and len(rings) > 2)
        ):
            self.note(where, quote(value), f"expected {least} rings, each [ring, repeat]")
            return
        for ring in rings:
            if not _is_index_row(ring, (2, 3)) or (count and not 0 <= ring[0] < count):
                self.note(where, quote(ring), f"expected [ring, repeat], ring 0 to {count - 1}")


def read_weave(raw: Mapping[str, object], where: str) -> Weave:
    """Make a weave of what a weave file says.

    Parameters
    ----------
    raw
        The parsed file.
    where
        Its name, for messages.

    Returns
    -------
    Weave
        Checked for form; its geometry is not solved yet.

    Raises
    ------
    InputError
        With every fault of the file at once.
    """
    reader = FileReader(raw, where)
    reader.refuse_unknown(raw, _KNOWN)
    reader.read_text()
    classes = reader.read_classes()
    count = reader.read_seed()
    ring_class = reader.read_rings(count, classes)
    parts = reader.read_parts(count)
    links = reader.read_links(count)
    reader.read_invariants(count)
    turn_deg = raw.get("turn_deg", 0.0)
    if not _is_number(turn_deg):
        reader.note("turn_deg", quote(turn_deg), "expected degrees")
    elif turn_deg and raw.get("form") == Form.SHEET:
        reader.note("turn_deg", quote(turn_deg), "a sheet has no axis to turn about")
    if reader.faults:
        raise InputError(faults=reader.faults)
    names = raw["trade_names"]
    return Weave(
        key=str(raw["key"]),
        title=str(raw["title"]),
        trade_names=tuple(names),  # type: ignore[arg-type]
        family=str(raw["family"]),
        form=Form(str(raw["form"])),
        classes=classes,
        ring_class=ring_class,
        links=links,
        parts=parts,
        turn_rad=math.radians(turn_deg),  # type: ignore[arg-type]
        notes=str(raw.get("notes", "")),
        source=str(raw["source"]),
        data={name: raw[name] for name in ("seed", "invariants") if name in raw},
    )
