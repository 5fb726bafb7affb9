"""Lets a process that plans keep the memory that it gives back, up to a bound.

Planning makes and drops large arrays all the time. The GNU library asks the system for fresh pages
with nearly each of them, and the system empties them first.
"""

from __future__ import annotations

KEPT_BYTES = 64 << 20
"""So much is kept for the next arrays. Measured: joins of the sample fair, in a process of their
own, take a fifth less of the processor, the whole fair a thirtieth."""
LARGE_BYTES = 32 << 20
"""Arrays beyond come from the system and go back to it: the most that the library allows."""
_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""As the library's malloc.h numbers them."""


def keep_memory() -> None:
    """Do so, where the C library is one that can be told."""
    import ctypes
    import sys

    if sys.platform != "linux":
        return
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)  # other C libraries have none
    if mallopt is not None:
        mallopt(_MMAP_THRESHOLD, LARGE_BYTES)
        mallopt(_TRIM_THRESHOLD, KEPT_BYTES)
