"""Every error chainplan raises on purpose, and the faults an input file is told of all at once."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


class ChainplanError(Exception):
    """Base of every error chainplan raises on purpose."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong in an input: where it stands, what was found, what is allowed."""

    where: str
    found: str
    allowed: str

    def __str__(self) -> str:
        return f"{self.where}: {self.found}; {self.allowed}"


class InputError(ChainplanError, ValueError):
    """Something the user wrote cannot be used as written; may carry many faults at once."""

    def __init__(self, message: str | None = None, *, faults: Iterable[Fault] = ()) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        if message is None:
            message = "\n".join(str(fault) for fault in self.faults)
        super().__init__(message)


class WeaveError(ChainplanError, ValueError):
    """A weave cannot be solved for this ring: no number is better than a wrong one."""


class CannotBeWoven(WeaveError):
    """The ring is too small for the weave: its aspect ratio is below the smallest workable one."""


class NotConverged(WeaveError):
    """The solver did not reach an overlap-free state with the declared links."""


class JoinError(ChainplanError, ValueError):
    """The joins of a piece cannot be planned: two linked rings that nothing reaches, say."""


class LimitsError(ChainplanError, ValueError):
    """No order can keep the temperature limits; the message says which, where and what helps."""


class ExaminationError(ChainplanError):
    """A finished plan contradicts itself: a fault of ours, and nothing of it is put in place."""


class PlanWarning(UserWarning):
    """The plan is usable but rests on a value outside its source's range."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a hint: the nearest known word, or the list of what is known.

    Examples
    --------
    >>> did_you_mean("byzantin", ["byzantine", "box-chain"])
    "did you mean 'byzantine'?"
    >>> did_you_mean("qqq", ["a1", "b2"])
    'known: a1, b2'
    """
    choices = list(known)
    lowered = {choice.lower(): choice for choice in choices}
    close = difflib.get_close_matches(word.strip().lower(), list(lowered), n=1, cutoff=0.6)
    if close:
        return f"did you mean {lowered[close[0]]!r}?"
    return f"known: {', '.join(choices)}"
