"""Numbers that trade time against exactness or weigh one good against another, with their reasons.

Each stage has one frozen object of them in its ``tuning.py``. They change no physics: a bench
setting says how a workshop is, a reference table what a metal is, and these how hard is searched.
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, Generic, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterator

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class TuningInfo:
    """What is known of one number: what it does, why it is so, and what happens beside it."""

    name: str
    value: Any
    means: str
    chosen: str  # "measured: …" or "judgement: …"
    less: str
    more: str


def tuned(value: Any, means: str, *, chosen: str, less: str, more: str) -> Any:
    """Declare a field of a stage's tuning with what a reader must know of it.

    Parameters
    ----------
    value
        What is used.
    means
        What it does, with its unit.
    chosen
        ``"measured: …"`` with what was measured when it was chosen, or ``"judgement: …"`` with
        the reason where nothing was measured.
    less, more
        What happens on either side.
    """
    return field(
        default=value, metadata={"means": means, "chosen": chosen, "less": less, "more": more}
    )


def list_tuning(tuning: Any, room: str = "") -> Iterator[TuningInfo]:
    """List the numbers of a stage's tuning in the order in which they are declared.

    Of a stage whose numbers stand in rooms, each name is that of the room, a point, its own.
    """
    for item in fields(tuning):
        name, value = f"{room}{item.name}", getattr(tuning, item.name)
        if is_dataclass(value) and not item.metadata:
            yield from list_tuning(value, f"{name}.")
        else:
            yield TuningInfo(name=name, value=value, **item.metadata)


def change_tuning(tuning: Any, name: str, value: Any) -> Any:
    """Return a tuning with another value of one number, by the name that it is listed under.

    Examples
    --------
    >>> @dataclass(frozen=True)
    ... class Room:
    ...     steps: int = 3
    >>> @dataclass(frozen=True)
    ... class Stage:
    ...     clock: Room = Room()
    >>> change_tuning(Stage(), "clock.steps", 5).clock.steps
    5
    """
    first, _, rest = name.partition(".")
    return replace(
        tuning, **{first: change_tuning(getattr(tuning, first), rest, value) if rest else value}
    )


class Tunable(Generic[T]):
    """The tuning that a stage uses: called, it gives the object that holds just now.

    Examples
    --------
    >>> steps = Tunable(3)
    >>> with steps.using(5):
    ...     steps()
    5
    >>> steps()
    3
    """

    def __init__(self, usual: T) -> None:
        self._current: ContextVar[T] = ContextVar("tuning", default=usual)

    def __call__(self) -> T:
        """Return the tuning that holds just now."""
        return self._current.get()

    @contextmanager
    def using(self, other: T) -> Iterator[T]:
        """Let another tuning hold inside a ``with`` block, in this thread.

        What a stage keeps in memory (solved repeats, tables) was made with the tuning before.
        """
        token = self._current.set(other)
        try:
            yield other
        finally:
            self._current.reset(token)
