"""The names that the rows of a job may use: weaves and metals, found as people write them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from chainplan.errors import InputError, Refusal, near_words, quote, tell_known
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.kinds import Form
from chainplan.model.piece.weave_names import WeaveName, WeaveNames, plain

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from chainplan.job.table import Findings
    from chainplan.model.metal import MeasuredRing, Metal
    from chainplan.model.piece.design import Design


@dataclass(slots=True)
class KnownNames:
    """The names a job may use, and where it stands."""

    folder: Path
    weaves: WeaveNames | None = None
    metals: Mapping[str, Metal] = field(default_factory=dict)
    measured: Mapping[tuple[str, str], MeasuredRing] = field(default_factory=dict)
    designs: Mapping[str, Design] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)  # read beside the job: name to hash
    _own_weaves: dict[str, WeaveName | InputError] = field(default_factory=dict)
    _weaves_found: dict[str, WeaveName | Refusal] = field(default_factory=dict)
    _own_metals: dict[str, Metal] = field(default_factory=dict)
    _metals_found: dict[str, Metal | None] = field(default_factory=dict)

    def weave(self, text: str, where: str, findings: Findings) -> WeaveName | None:
        """Find a weave; without a list of weaves any name is taken, form unknown."""
        if plain(text) == plain(LOOSE_JOINS):
            return WeaveName(key=LOOSE_JOINS, form=Form.LOOSE)
        if text.casefold().endswith(".toml"):
            return self._own_weave(text, where, findings)
        if self.weaves is None:
            return WeaveName(key=plain(text).replace(" ", "-"), form=Form.UNTOLD)
        if text not in self._weaves_found:
            self._weaves_found[text] = self.weaves.find(text) or self._no_weave(text, self.weaves)
        name = self._weaves_found[text]
        if isinstance(name, Refusal):
            findings.add(name.at(where))
            return None
        return name

    def _no_weave(self, text: str, weaves: WeaveNames) -> Refusal:
        meant = [weaves.find(word) for word in near_words(plain(text), map(plain, weaves.words()))]
        hint = tuple(name.key for name in meant if name is not None)
        known = tell_known([*(name.key for name in weaves.names), LOOSE_JOINS])
        return Refusal("is not known", known, quote(text), "weave", hint)

    def _own_weave(self, text: str, where: str, findings: Findings) -> WeaveName | None:
        if text not in self._own_weaves:
            self._own_weaves[text] = self._open_weave(text)
        found = self._own_weaves[text]
        if isinstance(found, WeaveName):
            return found
        if not found.faults:
            findings.add(found.at(where))
        for fault in found.faults:
            said = f"weave file {quote(text)} cannot be used: {fault.where}: {fault.found}"
            findings.fault(where, said, fault.allowed, fault.hint)
        return None

    def _open_weave(self, text: str) -> WeaveName | InputError:
        open_file = self.weaves.open_file if self.weaves else None
        if open_file is None:
            found, allowed = f"weave {quote(text)} is a file", "name a weave of the library"
            return InputError(Refusal(found, allowed))
        path = self.folder / text
        try:
            if not path.is_file():
                allowed = "its place is counted from the job file's folder"
                return InputError(Refusal(f"the weave file {quote(text)} is not there", allowed))
            return open_file(path)
        except InputError as error:
            return error
        except (OSError, ValueError):
            allowed = "write the name of a file beside the job"
            return InputError(Refusal(f"the weave file {quote(text)} has no usable name", allowed))

    def metal(self, text: str, where: str, findings: Findings) -> Metal | None:
        """Find a metal, the user's own first; tell it if there is none of that name."""
        from chainplan.reference import find_metal

        found = self.metal_called(text)
        if found is None and findings.untold:
            findings.untold += 1
        elif found is None:
            try:
                find_metal(text, self.metals)
            except InputError as error:
                findings.add(error.at(where))
        return found

    def metal_called(self, text: str) -> Metal | None:
        """Find a metal, the user's own first; ``None`` if there is none of that name."""
        from chainplan.reference import find_metal

        if not self._own_metals:
            for key, metal in self.metals.items():
                self._own_metals.setdefault(plain(key), metal)
                self._own_metals.setdefault(plain(metal.title), metal)
        if text not in self._metals_found:
            try:
                found = self._own_metals.get(plain(text)) or find_metal(text)
            except InputError:
                found = None
            self._metals_found[text] = found
        return self._metals_found[text]
