"""One wrong number at a time, in every file and every field of a plan, by a seed."""

from __future__ import annotations

import csv
import io
import json
import random
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

TABLES = ("rings.csv", "links.csv", "weld-order.csv")
_CONTENT = re.compile(r'(<script type="application/json" id="content">)(.*?)(</script>)', re.DOTALL)
_NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?![\w.])")


@dataclass(frozen=True)
class Mutation:
    """A file's new text, and where it differs from the good one."""

    file: str
    field: str  # with * for numbers of rows and entries
    place: str
    text: str


def mutate_tables(files: dict[str, str], rng: random.Random, each: int) -> Iterator[Mutation]:
    """Change one cell of every column, some times over, in rows drawn at random."""
    for file in TABLES:
        rows = list(csv.reader(io.StringIO(files[file])))
        for column, name in enumerate(rows[0]):
            for row in rng.sample(range(1, len(rows)), each):
                changed = [list(line) for line in rows]
                new = change_text(name, changed[row][column], [line[column] for line in rows[1:]])
                if new is None:
                    continue
                changed[row][column] = new
                out = io.StringIO()
                csv.writer(out, lineterminator="\n").writerows(changed)
                place = f"row {row + 1}: {rows[row][column]} → {new}"
                yield Mutation(file, name, place, out.getvalue())


def change_text(name: str, old: str, others: list[str]) -> str | None:
    """Change a cell: a number by a little, a word to another of its column."""
    try:
        value = float(old)
    except ValueError:
        words = sorted(set(others) - {old})
        return words[0] if words else f"{old} indeed" if old else None
    more = 2 if "_c" in name else 1
    return str(int(value) + more) if "." not in old else f"{changed_number(value):.6g}"


def changed_number(value: float) -> float:
    """Make a number about a tenth larger; one near zero a tenth."""
    return value + 0.1 if abs(value) < 0.5 else value * 1.1


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """List every number and text of a record with the way to it."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from leaves(item, (*path, number))
    elif value is not None:
        yield path, value


def changed_leaf(value: Any) -> Any:
    """Change a value: a number, money as text, the first number of a sentence; None if neither."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return changed_number(value)
    try:
        return str(Decimal(value) + Decimal("1.11"))
    except InvalidOperation:
        pass
    if re.fullmatch(r"\d{4}-\d\d-\d\d(T.*)?", value):
        return value.replace("2027", "2028")
    found = _NUMBER.search(value)
    if found is None:
        return None
    number = found.group(0)
    new = str(int(number) + 3) if "." not in number else f"{float(number) * 1.5:.4g}"
    return value[: found.start()] + new + value[found.end() :]


def mutate_record(
    file: str, record: Any, wrap: Any, rng: random.Random, each: int
) -> Iterator[Mutation]:
    """Change one leaf of every kind of leaf, some times over, at entries drawn at random."""
    kinds: dict[str, list[tuple[tuple[Any, ...], Any]]] = {}
    for path, value in leaves(record):
        # Names of pieces among the keys stand for any piece.
        parts = ["*" if isinstance(part, int) else str(part) for part in path]
        if len(parts) > 2 and parts[:2] == ["estimates", "figures"]:
            parts[2] = "batch" if parts[2] == "" else "piece"
            rows = record["estimates"]["figures"][path[2]]
            parts[3] = (
                "load-*" if rows[path[3]]["key"].startswith("load-") else rows[path[3]]["key"]
            )
        kinds.setdefault(".".join(parts), []).append((path, value))
    for field, found in kinds.items():
        for path, value in rng.sample(found, min(each, len(found))):
            new = changed_leaf(value)
            if new is None:
                continue
            changed = json.loads(json.dumps(record))
            holder = changed
            for part in path[:-1]:
                holder = holder[part]
            holder[path[-1]] = new
            yield Mutation(file, field, f"{path}: {value!r} → {new!r}", wrap(changed))


def all_mutations(files: dict[str, str], seed: int, each: int) -> Iterator[Mutation]:
    """List mutations of every field of every file."""
    rng = random.Random(seed)
    yield from mutate_tables(files, rng, each)
    yield from mutate_record("plan.json", json.loads(files["plan.json"]), json.dumps, rng, each)
    page = files["bench-sheet.html"]
    found = _CONTENT.search(page)
    assert found is not None

    def wrap(record: Any) -> str:
        text = json.dumps(record).replace("<", "\\u003c").replace(">", "\\u003e")
        return page[: found.start(2)] + text.replace("&", "\\u0026") + page[found.end(2) :]

    yield from mutate_record("bench-sheet.html", json.loads(found.group(2)), wrap, rng, each)
