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


@cache
def solving_version() -> str:
    """Tell one digest of what repeats are solved by: code and starts of the weaves, and libraries.

    A question of a tenth of a second has no time for more; the libraries tell their versions in a
    small file of their own, without being loaded.
    """
    folders = tuple(_digest_of(PACKAGE / name) for name in ("weave", "model/piece"))
    libraries = tuple(_version_file(name) for name in ("numpy", "scipy"))
    return hashlib.sha256(repr((folders, libraries)).encode()).hexdigest()


def _version_file(library: str) -> bytes:
    """Return the file in which a library says which version it is, or what says so without it."""
    from importlib.metadata import version
    from importlib.util import find_spec

    found = find_spec(library)
    for folder in (found.submodule_search_locations or ()) if found else ():
        path = Path(folder) / "version.py"
        if path.is_file():
            return path.read_bytes()
    return version(library).encode()


@cache
def drawing_version() -> str:
    """Tell one digest of what charts and pages are drawn by: the code that draws, its libraries."""
    from importlib.metadata import version

    drawn = tuple(_digest_of(PACKAGE / name) for name in ("report", "writing"))
    light = tuple((PACKAGE / name).read_bytes() for name in ("units.py", "arrays.py"))
    libraries = (version("matplotlib"), version("reportlab"))
    told = (code_version(), drawn, light, libraries)
    return hashlib.sha256(repr(told).encode()).hexdigest()


@cache
def timetable_version() -> str:
    """Tell one digest of what timetables are solved by: our code and the solver, an extra."""
    from importlib.metadata import version

    told = (_digest_of(PACKAGE / "schedule"), _digest_of(PACKAGE / "model"), version("ortools"))
    return hashlib.sha256(repr(told).encode()).hexdigest()


@cache
def examining_version() -> str:
    """Tell one digest of the examiner: its code, what it shares with others, its libraries."""
    from importlib.metadata import version

    folders = tuple(_digest_of(PACKAGE / name) for name in ("examine", "model", "reference"))
    light = tuple(path.read_bytes() for path in sorted(PACKAGE.glob("*.py")))
    libraries = tuple((name, version(name)) for name in ("numpy", "scipy", "pypdfium2"))
    return hashlib.sha256(repr((folders, light, libraries)).encode()).hexdigest()


def _digest_of(folder: Path) -> str:
    whole = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.suffix in ENDINGS:
            whole.update(path.relative_to(folder).as_posix().encode())
            whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()
