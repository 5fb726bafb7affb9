"""What a process beside the caller's does: it takes tasks from a pipe and gives answers to another.

It is started by its own command and not as a copy of the caller, because a copy of a process with
threads is not safe, and without the caller's script, which may be one that plans as it is read.
"""

from __future__ import annotations

import pickle
import struct
import sys
from contextlib import suppress
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from chainplan.workers.tasks import Call

_LENGTH = struct.Struct("<Q")


@dataclass(frozen=True, slots=True)
class Load:
    """Modules to be loaded in advance. No answer."""

    modules: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Begin:
    """What is to be done with the tasks that follow; what they share travels once. No answer."""

    call: Call


@dataclass(frozen=True, slots=True)
class Do:
    """A task and its number."""

    number: int
    task: Any


@dataclass(frozen=True, slots=True)
class Broken:
    """The answer of a task that ended in a fault of the program."""

    error: Exception
    trace: str


def packed(message: object) -> bytes:
    """Put a message into bytes."""
    return pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)


def send(stream: IO[bytes], message: object) -> None:
    """Write one message, which may be in bytes already."""
    content = message if isinstance(message, bytes) else packed(message)
    stream.write(_LENGTH.pack(len(content)))
    stream.write(content)
    stream.flush()


def receive(stream: IO[bytes]) -> bytes | None:
    """Read the bytes of one message; None if there will be no more."""
    head = stream.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    content = stream.read(length)
    return content if len(content) == length else None


def main() -> None:
    """Do tasks until the caller closes the pipe, or is no more."""
    import gc
    import os

    from chainplan.workers.memory import keep_memory

    keep_memory()
    gc.set_threshold(100_000, 20, 20)  # plans make many objects and few cycles
    asked, answers = os.fdopen(os.dup(0), "rb"), os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is not to be taken for an answer
    with suppress(BrokenPipeError):  # nobody is left to be answered
        _work(asked, answers)


def _work(asked: IO[bytes], answers: IO[bytes]) -> None:
    """Do what is asked, one message after the other."""
    call: Call | None = None
    while (content := receive(asked)) is not None:
        try:
            message = pickle.loads(content)
            if isinstance(message, Load):
                _load(message.modules)
            elif isinstance(message, Begin):
                call = message.call
            elif call is not None:
                send(answers, call.run(message.number, message.task))
        except Exception as error:
            send(answers, told(error))


def _load(modules: tuple[str, ...]) -> None:
    """Load modules, and the digest of our own code."""
    from importlib import import_module

    from chainplan.store.version import code_version

    for name in modules:
        import_module(name)
    code_version()


def told(error: Exception) -> Broken:
    """Tell an error as it is, or in words where it cannot be sent."""
    from traceback import format_exc

    try:
        pickle.loads(pickle.dumps(error))
    except Exception:
        error = RuntimeError(repr(error))
    return Broken(error, format_exc())


def command() -> list[str]:
    """Tell the command that starts such a process, which finds modules where this one does."""
    code = f"import sys; sys.path[:] = {sys.path!r}; from chainplan.workers.beside import main; "
    return [sys.executable, "-c", f"{code}main()"]
