"""Names of files and folders that are safe on every common system."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

_RESERVED = {"con", "prn", "aux", "nul", *(f"{p}{n}" for p in ("com", "lpt") for n in range(1, 10))}
"""Names that Windows keeps for devices, whatever their ending (Naming Files, Microsoft Learn)."""


def safe_name(name: str) -> str:
    """Turn any text into a name that stays inside its folder on every common system.

    Letters and digits of any script are kept, all else becomes "-".

    Examples
    --------
    >>> safe_name("../../etc/passwd"), safe_name("=Anna's 1/2"), safe_name("CON"), safe_name("…")
    ('etc-passwd', 'Anna-s-1-2', 'CON-', 'unnamed')
    """
    kept = re.sub(r"[^\w.]+", "-", name, flags=re.UNICODE).strip("-._ ")
    kept = re.sub(r"\.{2,}", ".", kept)[:80].rstrip("-._ ") or "unnamed"
    return f"{kept}-" if kept.split(".")[0].lower() in _RESERVED else kept


def file_names(names: Sequence[str]) -> list[str]:
    """Turn names into different file names, alike on systems that do not tell capitals apart.

    Examples
    --------
    >>> file_names(["Collar 1/2", "collar 1:2", "belt"])
    ['Collar-1-2', 'collar-1-2-2', 'belt']
    """
    taken: set[str] = set()
    found = []
    for name in names:
        safe = base = safe_name(name)
        number = 1
        while safe.lower() in taken:
            number += 1
            safe = f"{base}-{number}"
        taken.add(safe.lower())
        found.append(safe)
    return found
