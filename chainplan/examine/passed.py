"""Checks that a plan's files have passed before are not run again on the same content.

What a check reads is watched while it runs: which keys of plan.json, of the bench sheet and of the
values used. If it finds nothing, these keys and a digest of what they held are kept. It is left
out later only if all that it read then holds the same now, to the last digit, and the examiner is
the same to the last byte; so it would take the same way and find nothing again. A check that opens
a file by itself, or goes through keys whose names it does not know, is always run.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

from chainplan.examine.reading import COLUMNS, PlanFiles

if TYPE_CHECKING:
    from collections.abc import Collection

DEEPER = ("estimates", "schedule", "order", "bench")
"""Keys of plan.json whose own keys are watched one by one."""
UNKNOWN = "what no digest stands for"
"""Noted where a check opens a file, goes through keys, or takes what another check has left."""


class Kept(Protocol):
    """Results kept by key, as the store has them."""

    def get(self, key: str) -> Any:
        """Return what was kept, or None."""

    def put(self, key: str, value: object) -> None:
        """Keep something."""


@dataclass(frozen=True)
class Passed:
    """What files have passed, kept under the version of the examiner."""

    kept: Kept
    version: str

    def of(self, files: PlanFiles) -> PassedBy:
        """Look at the files of one plan."""
        return PassedBy(self.kept, self.version, files, _digest_of_pieces(files))


@dataclass(frozen=True)
class PassedBy:
    """What the files of one plan have passed."""

    kept: Kept
    version: str
    files: PlanFiles
    base: str  # of what every check may read without a note
    _held: dict[str, str] = field(default_factory=dict)

    def notes_of(self, check: str) -> list[str] | None:
        """Return the notes of a check that these files have passed; None if it has to be run."""
        known = self.kept.get(self._key(check))
        if not (isinstance(known, tuple) and len(known) == 3):
            return None
        read, digest, notes = known
        return list(notes) if self._digest_of(read) == digest else None

    def keep(self, check: str, noted: Collection[str], notes: list[str]) -> None:
        """Keep what a check read that found nothing."""
        if UNKNOWN not in noted:
            read = tuple(sorted(noted))
            self.kept.put(self._key(check), (read, self._digest_of(read), notes))

    def _key(self, check: str) -> str:
        return hashlib.sha256(f"{check}\n{self.base}\n{self.version}".encode()).hexdigest()

    def _digest_of(self, read: tuple[str, ...]) -> str:
        """Digest what some keys hold, each of them once for all checks."""
        held = []
        for way in read:
            if way not in self._held:
                told = json.dumps(_content_at(way, self.files))
                self._held[way] = hashlib.sha256(told.encode()).hexdigest()
            held.append([way, self._held[way]])
        return hashlib.sha256(json.dumps(held).encode()).hexdigest()


class Watched(dict[str, Any]):
    """A mapping that notes which of its keys are asked for."""

    def __init__(self, content: dict[str, Any], place: str, read: set[str]) -> None:
        super().__init__(content)
        self._place, self._read = place, read

    def _note(self, key: object) -> None:
        if not isinstance(super().get(str(key)), Watched):
            self._read.add(f"{self._place}{key}")

    def __getitem__(self, key: str) -> Any:
        self._note(key)
        return super().__getitem__(key)

    def get(self, key: str, default: Any = None) -> Any:
        """Look a key up."""
        self._note(key)
        return super().get(key, default)

    def __contains__(self, key: object) -> bool:
        self._note(key)
        return super().__contains__(key)


def _noting(name: str) -> Any:
    """Make a method of a mapping that depends on all of its keys."""

    def method(self: Watched, *given: Any) -> Any:
        self._read.add(UNKNOWN)
        return getattr(super(Watched, self), name)(*given)

    return method


for _name in (
    "__eq__", "__ne__", "__iter__", "__len__", "__or__", "__ror__", "__reversed__", "copy",
    "items", "keys", "pop", "popitem", "setdefault", "values",
):  # fmt: skip
    setattr(Watched, _name, _noting(_name))


class WatchedFiles(PlanFiles):
    """The files of a plan, noting what is read of them beside the pieces."""

    whole_files: PlanFiles
    read: set[str]

    def __getattribute__(self, name: str) -> Any:
        if name in ("folder", "_values"):
            object.__getattribute__(self, "read").add(UNKNOWN)
        return object.__getattribute__(self, name)

    @cached_property
    def sources(self) -> dict[str, dict[str, Any]]:
        """The values used, by key."""
        return Watched(self.whole_files.sources, "source ", self.read)


def watch(files: PlanFiles) -> WatchedFiles:
    """Give the same files to one check, so that what it reads is noted."""
    read: set[str] = set()
    plan = dict(files.plan)
    for name in DEEPER:
        if isinstance(plan.get(name), dict):
            plan[name] = Watched(plan[name], f"plan {name} ", read)
    watched = object.__new__(WatchedFiles)
    object.__setattr__(watched, "read", read)
    object.__setattr__(watched, "whole_files", files)
    for item in fields(PlanFiles):
        object.__setattr__(watched, item.name, getattr(files, item.name))
    object.__setattr__(watched, "plan", Watched(plan, "plan ", read))
    object.__setattr__(watched, "sheet", Watched(files.sheet, "sheet ", read))
    return watched


def _digest_of_pieces(files: PlanFiles) -> str:
    """Digest what every check may read without a note: the pieces, in all files."""
    whole = hashlib.sha256()
    for name in COLUMNS:
        whole.update(hashlib.sha256((files.folder / name).read_bytes()).digest())
    told = [files.plan["pieces"], files.plan["order"]["pieces"], files.sheet["pieces"]]
    whole.update(json.dumps(told).encode())
    return whole.hexdigest()


def _content_at(way: str, files: PlanFiles) -> list[Any]:
    """Find what a key holds; nothing, if it is not there, is told from all that it could hold."""
    kind, _, key = way.partition(" ")
    content: Any = {"plan": files.plan, "sheet": files.sheet, "source": files.sources}[kind]
    name, _, deeper = key.partition(" ")
    if kind == "plan" and deeper and name in DEEPER:
        content, key = content.get(name, {}), deeper
    return [content[key]] if key in content else []
