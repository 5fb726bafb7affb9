"""The command line: each command mirrors one public function; the only part that prints."""

from __future__ import annotations

import sys

TYPE_CHECKING = False  # Without typing's import, Ctrl-C in the first moments meets our own code.
if TYPE_CHECKING:
    from collections.abc import Sequence

STOPPED = 130
"""Exit status of a run that Ctrl-C ended: 128 and the number of the signal, as shells tell it."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 2 the input is at fault, 1 we are, 130 stopped by Ctrl-C.

    Without words of its own it takes those of the process, and then minds Ctrl-C to the very end.
    """
    try:
        if argv is None:
            sys.unraisablehook = _mind_lost_stop
        from chainplan.cli.common.running import DONE, prepare_streams, run_command
        from chainplan.cli.parser import build_parser

        prepare_streams()
        parser = build_parser()
        args = parser.parse_args(argv)
        if not hasattr(args, "run"):
            parser.print_help()
            return DONE
        code = run_command(args)
        if argv is None:
            import gc

            gc.freeze()  # what was made need not be looked through for cycles as all of it ends
        return code
    except KeyboardInterrupt:
        if argv is None:
            import signal

            signal.signal(signal.SIGINT, signal.SIG_IGN)  # A second one is not to leave a trace.
        _tell_stopped()
        return STOPPED


def _tell_stopped() -> None:
    print("chainplan: stopped; nothing was changed", file=sys.stderr)


def _mind_lost_stop(lost: sys.UnraisableHookArgs) -> None:
    """Stop when Ctrl-C came while Python was clearing up, where it would go on without a word.

    Ending at once is safe: what is being written stands beside the folder, and a change that has
    begun is finished by the next run.
    """
    if lost.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(lost)
        return
    import os

    print("chainplan: stopped", file=sys.stderr, flush=True)
    os._exit(STOPPED)
