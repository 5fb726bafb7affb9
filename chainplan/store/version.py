"""The version of the code and data that results depend on: a digest of their files, by stage.

A number that somebody has to raise by hand is forgotten sooner or later, and then an old answer
comes back. The files themselves are not forgotten; reading them takes some hundredths of a second.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

PACKAGE = Path(__file__).parents[1]
STAGES = ("weave", "join", "heat", "order", "estimate", "model", "reference", "public", "store")
"""Folders that the plan of a piece comes from."""
ENDINGS = (".py", ".csv", ".toml", ".npz")


@cache
def stage_versions() -> tuple[tuple[str, str], ...]:
    """Tell a digest of the files of every stage, and which numbers they are computed with."""
    from importlib.metadata import version

    digests = [(stage, _digest_of(PACKAGE / stage)) for stage in STAGES]
    return (*digests, *((name, version(name)) for name in ("numpy", "scipy", "networkx")))


@cache
def code_version() -> str:
    """Tell one digest of all of them."""
    return hashlib.sha256(repr(stage_versions()).encode()).hexdigest()


def _digest_of(folder: Path) -> str:
    whole = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.suffix in ENDINGS:
            whole.update(path.relative_to(folder).as_posix().encode())
            whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()
