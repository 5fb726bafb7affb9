"""Runs one command: what goes wrong becomes one message on stderr and an exit status."""

from __future__ import annotations

import os
import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

DONE, OUR_FAULT, INPUT_FAULT = 0, 1, 2


def prepare_streams() -> None:
    """Let no letter that the terminal lacks end a command; files and pipes take UTF-8."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            encoding = None if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=encoding, errors="replace")


def run_command(args: argparse.Namespace) -> int:
    """Run the chosen command, turning errors into one message on stderr."""
    import warnings

    from chainplan.cli.telling import tell_error, tell_our_fault, tell_warning
    from chainplan.errors import ChainplanError

    with warnings.catch_warnings():
        warnings.showwarning = tell_warning
        try:
            code = int(args.run(args))
            if sys.stdout is not None:
                sys.stdout.flush()
        except ChainplanError as error:
            if args.debug:
                raise
            tell_error(error, as_json=args.json)
            return INPUT_FAULT
        except BrokenPipeError:
            _drop_answer()
            return DONE
        except Exception as error:
            if args.debug:
                raise
            tell_our_fault(error)
            return OUR_FAULT
    return code


def _drop_answer() -> None:
    """Send the rest of the answer nowhere, so that the interpreter's last flush finds no fault."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
