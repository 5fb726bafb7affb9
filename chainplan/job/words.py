"""What the words of a job mean: weaves, metals and parts, from names as people write them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from chainplan.errors import InputError, did_you_mean
from chainplan.model.job import LOOSE_JOINS
from chainplan.model.weave_names import WeaveName, WeaveNames, plain

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from chainplan.job.table import Findings
    from chainplan.model.metal import MeasuredRing, Metal


@dataclass(slots=True)
class Words:
    """The names a job may use, and where it stands."""

    folder: Path
    weaves: WeaveNames | None = None
    metals: Mapping[str, Metal] = field(default_factory=dict)
    measured: Mapping[tuple[str, str], MeasuredRing] = field(default_factory=dict)

    def weave(self, text: str, where: str, findings: Findings) -> WeaveName | None:
        """Find a weave; without a list of weaves any name is taken, form unknown."""
        if plain(text) == plain(LOOSE_JOINS):
            return WeaveName(key=LOOSE_JOINS, form="loose")
        if text.casefold().endswith(".toml"):
            return self._own_weave(text, where, findings)
        if self.weaves is None:
            return WeaveName(key=plain(text).replace(" ", "-"), form="")
        name = self.weaves.find(text)
        if name is None:
            hint = did_you_mean(plain(text), [*map(plain, self.weaves.words())])
            close = self.weaves.find(hint.removeprefix("did you mean '").removesuffix("'?"))
            if close is not None:
                hint = f"did you mean {close.key!r}?"
            else:
                keys = [*(known.key for known in self.weaves.names), LOOSE_JOINS]
                hint = f"known: {', '.join(keys)}"
            findings.fault(where, f"weave {text!r} is not known", hint)
        return name

    def _own_weave(self, text: str, where: str, findings: Findings) -> WeaveName | None:
        path = self.folder / text
        open_file = self.weaves.open_file if self.weaves else None
        if open_file is None:
            findings.fault(where, f"weave {text!r} is a file", "name a weave of the library")
            return None
        if not path.is_file():
            found = f"the weave file {text!r} is not there"
            findings.fault(where, found, "its place is counted from the job file's folder")
            return None
        try:
            return open_file(path)
        except InputError as error:
            findings.fault(where, f"weave file {text!r} cannot be used", str(error))
            return None

    def metal(self, text: str, where: str, findings: Findings) -> Metal | None:
        """Find a metal, the user's own first."""
        from chainplan.reference import find_metal

        try:
            return find_metal(text, self.metals)
        except InputError as error:
            note(error, where, findings)
            return None


def note(error: InputError, where: str, findings: Findings) -> None:
    """Note a fault from an error's own words, split at its semicolon."""
    found, _, allowed = str(error).partition("; ")
    findings.fault(where, found, allowed or "choose another")
