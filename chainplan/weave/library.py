"""The weaves that come with the package, and a user's own: found by key, trade name or file."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from chainplan.bounds import BOUNDS
from chainplan.errors import Fault, InputError, near_words, quote, tell_known
from chainplan.intake import decode, parse_toml, read_bytes
from chainplan.weave.weavefile import read_weave

if TYPE_CHECKING:
    from collections.abc import Mapping

    from chainplan.model.piece.weave import Weave

LIBRARY_FOLDER = Path(__file__).parent / "library"


@lru_cache(maxsize=1)
def weave_keys() -> tuple[str, ...]:
    """Return the keys of the weaves that come with the package, sorted.

    Examples
    --------
    >>> "byzantine" in weave_keys()
    True
    """
    return tuple(sorted(path.stem for path in LIBRARY_FOLDER.glob("*.toml")))


def _plain(name: str) -> str:
    """Strip case, spaces, hyphens and the like off a name: "4 in 1" is "4-in-1"."""
    return re.sub(r"[^a-z0-9]+", "", name.lower())


@lru_cache(maxsize=1)
def list_names() -> Mapping[str, str]:
    """Return every name a weave goes by (key, title, trade names) with its key."""
    names: dict[str, str] = {}
    for key in weave_keys():
        weave = _load_shipped(key)
        for name in (key, weave.title, *weave.trade_names):
            names.setdefault(name, key)
    return names


@lru_cache(maxsize=64)
def _load_shipped(key: str) -> Weave:
    return read_weave_file(LIBRARY_FOLDER / f"{key}.toml")


def read_weave_file(path: Path) -> Weave:
    """Read one weave file.

    Parameters
    ----------
    path
        The TOML file.

    Raises
    ------
    InputError
        If it is missing, is not TOML, or has faults: all of them at once.
    """
    allowed = "expected TOML, as in the weave files that come with chainplan"
    try:
        content = read_bytes(path, BOUNDS.weave_bytes, allowed="expected a weave file (.toml)")
        raw = parse_toml(decode(content, path.name), path.name, allowed=allowed)
    except InputError as error:
        raise InputError(faults=[error.at(path.name)]) from error
    return read_weave(raw, path.name)


def load_weave(name_or_path: str | Path) -> Weave:
    """Find a weave by its key, title or trade name, or read it from a file.

    Parameters
    ----------
    name_or_path
        "byzantine", "European 4 in 1" … (case, spaces and hyphens do not matter), or the path of
        a weave file (ends in ``.toml``).

    Returns
    -------
    Weave
        As its file declares it; nothing is solved yet.

    Raises
    ------
    InputError
        If no weave has that name (with the nearest one), or the file has faults.

    Examples
    --------
    >>> load_weave("European 4 in 1").key
    'european-4-in-1'
    """
    if isinstance(name_or_path, Path) or name_or_path.endswith(".toml"):
        return read_weave_file(Path(name_or_path))
    plain = _plain(name_or_path)
    for key in weave_keys():
        if _plain(key) == plain:
            return _load_shipped(key)
    names = list_names()
    for name, key in names.items():
        if _plain(name) == plain:
            return _load_shipped(key)
    found = f"no weave is called {quote(name_or_path)}"
    hint = near_words(name_or_path, names)
    raise InputError(faults=[Fault("weave", found, tell_known(weave_keys()), hint)])
