"""The list of the files that a plan wrote, by which they are told from the user's own."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path, PurePosixPath

LIST_NAME = ".written-by-chainplan.json"


def digest_of(path: Path) -> str | None:
    """Return the SHA-256 of a plain file; None for anything else, and for nothing at all."""
    if path.is_symlink() or not path.is_file():
        return None
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_listing(folder: Path) -> dict[str, str]:
    """Read which files of a folder are ours, with the digest that each had when it was written."""
    try:
        listed = json.loads((folder / LIST_NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(listed, dict):
        return {}
    return {
        name: digest
        for name, digest in listed.items()
        if isinstance(digest, str) and stays_inside(name)
    }


def stays_inside(name: str) -> bool:
    """Whether a relative name stays inside its folder.

    Examples
    --------
    >>> stays_inside("charts/cost.svg"), stays_inside("../plan.json"), stays_inside("/etc/passwd")
    (True, False, False)
    """
    path = PurePosixPath(name)
    return bool(path.parts) and not path.is_absolute() and ".." not in path.parts


def write_listing(folder: Path) -> None:
    """List every file of a new folder, in the folder itself."""
    names = sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())
    listing = {name: digest_of(folder / name) for name in names if name != LIST_NAME}
    (folder / LIST_NAME).write_text(json.dumps(listing, indent=0), encoding="utf-8")


def name_of_changes(place: Path) -> Path:
    """Return a free name beside a file, to keep the user's changes of it under."""
    number = 1
    while True:
        other = place.with_name(f"{place.stem}-your-changes-{number}{place.suffix}")
        if not (other.exists() or other.is_symlink()):
            return other
        number += 1
