"""Runs one command: what goes wrong becomes one message on stderr and an exit status."""

from __future__ import annotations

import errno
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

DISK_FAULTS = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS}
DONE, OUR_FAULT, INPUT_FAULT = 0, 1, 2
"""Exit status: done, a fault of the program, a fault in what was given (as argparse tells it)."""


def prepare_streams() -> None:
    """Let no letter that the terminal lacks end a command; files and pipes take UTF-8."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            encoding = None if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=encoding, errors="replace")


def run_command(args: argparse.Namespace) -> int:
    """Run the chosen command, turning errors into one message on stderr."""
    import warnings

    from chainplan.cli.common.telling import tell_error, tell_our_fault, tell_trace, tell_warning
    from chainplan.errors import ChainplanError, ExaminationError, InputError

    with warnings.catch_warnings():
        warnings.showwarning = tell_warning
        try:
            _check_bytes(args)
            code = int(args.run(args))
            if sys.stdout is not None:
                sys.stdout.flush()
        except ChainplanError as error:
            if args.debug:
                tell_trace(error)
            tell_error(error, as_json=args.json)
            return OUR_FAULT if isinstance(error, ExaminationError) else INPUT_FAULT
        except BrokenPipeError:
            return DONE
        except Exception as error:
            if isinstance(error, OSError) and error.errno in DISK_FAULTS:
                tell_error(InputError(f"cannot be written ({error.strerror})"), as_json=False)
                return INPUT_FAULT
            if args.debug:
                tell_trace(error)
            tell_our_fault(error)
            return OUR_FAULT
    return code


def _check_bytes(args: argparse.Namespace) -> None:
    """Refuse words with a byte that is no letter: they could not be written down anywhere."""
    from chainplan.errors import InputError

    for value in vars(args).values():
        if isinstance(value, str) and any("\ud800" <= letter <= "\udfff" for letter in value):
            shown = value.encode("ascii", "backslashreplace").decode()
            message = f"{shown}: a byte of this name is no letter; rename it"
            raise InputError(message)
