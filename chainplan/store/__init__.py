"""What was planned before, kept in plain files in the user's cache folder and found again by key.

A key is a digest of everything that a result depends on: its inputs, written one way, and the
version of the code that makes it. What cannot be read is as if it were not there.
"""

from __future__ import annotations

from chainplan.store.keys import key_of
from chainplan.store.shelf import ResultShelf, default_folder

__all__ = ["ResultShelf", "default_folder", "key_of"]
