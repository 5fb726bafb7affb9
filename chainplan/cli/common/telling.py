"""What all commands tell alike: answers, faults, warnings, and which files were written."""

from __future__ import annotations

import sys

from chainplan.errors import ChainplanError

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from chainplan.errors import Fault
    from chainplan.job.written.learned import Written


MOST_NOTES = 24
"""Notes told in the terminal: about a screen. Judgement; the workbook has all of them."""


def tell_warning(message: Warning | str, *_: object, **__: object) -> None:
    """Tell a warning as a note; in the form that ``warnings.showwarning`` has."""
    tell_note(str(message))


def tell_note(text: str) -> None:
    """Tell something beside the answer, on stderr."""
    print(f"chainplan: note: {text}", file=sys.stderr)


def tell_notes(notes: Sequence[str], where: str) -> None:
    """Tell notes on stderr: of a catalogue's hundreds the first, and where all of them stand."""
    for note in notes[:MOST_NOTES]:
        tell_note(note)
    if len(notes) > MOST_NOTES:
        tell_note(f"and {len(notes) - MOST_NOTES} more notes: {where}")


def tell_files(paths: Iterable[Path]) -> None:
    """Tell which files were written, on stderr."""
    for path in paths:
        print(f"chainplan: {path} written", file=sys.stderr)


def tell_written(written: Written) -> None:
    """Tell what was put into a job's workbook, and what was not."""
    for line in (*written.changes, *(f"left out: {text}" for text in written.left_out)):
        print(line)
    if written.kept_as:
        print(f"{written.file} changed; as it was it is {written.kept_as}")
    else:
        print(f"{written.file}: nothing to change yet")


def tell_error(error: Exception, *, as_json: bool) -> None:
    """Tell an error made on purpose: every fault on a line of its own, then its notes."""
    faults: tuple[Fault, ...] = getattr(error, "faults", ())
    if as_json:
        from chainplan.report.text.record import to_json

        alone = (error.at(""),) if isinstance(error, ChainplanError) and not faults else ()
        told = fault_records(faults or alone)
        print(to_json({"ok": False, "error": str(error), "faults": told}))
    for line in [str(fault) for fault in faults] or str(error).splitlines():
        print(f"chainplan: {line}", file=sys.stderr)
    for note in getattr(error, "__notes__", ()):
        print(f"  {note}", file=sys.stderr)
    if len(faults) > 1:
        print(f"chainplan: {len(faults)} faults", file=sys.stderr)


def tell_our_fault(error: Exception) -> None:
    """Tell an error that nobody foresaw, and how to find out more."""
    print(
        f"chainplan: a fault of ours: {type(error).__name__}: {error}\n"
        "Run the same command with --debug to see where, and report it with the input.",
        file=sys.stderr,
    )


def tell_trace(error: Exception) -> None:
    """Show where an error arose."""
    import traceback

    traceback.print_exception(error, file=sys.stderr)


def fault_records(faults: Iterable[Fault]) -> list[dict[str, object]]:
    """List faults with the keys that people script against."""
    return [fault.record() for fault in faults]
