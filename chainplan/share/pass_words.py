"""Who may do what: random words in links, good for a day, kept through a restart."""

from __future__ import annotations

import hmac
import json
import os
import secrets
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from chainplan.share.bounds import TOKEN_H

if TYPE_CHECKING:
    from pathlib import Path

BENCH, BOARD = "bench", "board"
NAME = ".sharing.json"


@dataclass(slots=True)
class PassWords:
    """The two words of one sharing: for tablets, and for whoever runs the shop."""

    path: Path
    plan: str
    bench: str
    board: str
    until_s: float
    taken: list[dict[str, Any]] = field(default_factory=list)  # stretches that people have taken

    @classmethod
    def open(cls, path: Path, plan: str) -> PassWords:
        """Take up those of an interrupted sharing of the same plan, or draw new ones."""
        try:
            kept = json.loads(path.read_text(encoding="utf-8"))
            found = cls(
                path, str(kept["plan"]), str(kept["bench"]), str(kept["board"]),
                float(kept["until_s"]), list(kept["taken"]),
            )  # fmt: skip
            if found.plan == plan and found.until_s > time.time() + 600 and len(found.bench) > 30:
                return found
        except (OSError, ValueError, KeyError, TypeError):
            pass  # none was left, or it is not whole: begin anew
        until_s = time.time() + TOKEN_H * 3600
        made = cls(path, plan, secrets.token_urlsafe(24), secrets.token_urlsafe(24), until_s)
        made.keep()
        return made

    def keep(self) -> None:
        """Write them down, readable by this user alone."""
        fresh = self.path.with_name(f"{self.path.name}.new")
        kept = {
            "plan": self.plan, "bench": self.bench, "board": self.board, "until_s": self.until_s,
            "taken": self.taken,
        }  # fmt: skip
        number = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(number, "w", encoding="utf-8") as file:
            json.dump(kept, file)
        fresh.replace(self.path)

    def forget(self) -> None:
        """Make them worthless, for good."""
        self.until_s = 0.0
        self.path.unlink(missing_ok=True)

    def role(self, header: bytes) -> str:
        """Say what the sender of an Authorization header may do: "bench", "board", or "" nothing.

        Both are compared in the same time whatever is sent.
        """
        bench = hmac.compare_digest(header, b"Bearer " + self.bench.encode())
        board = hmac.compare_digest(header, b"Bearer " + self.board.encode())
        if time.time() > self.until_s:
            return ""
        return BOARD if board else BENCH if bench else ""
