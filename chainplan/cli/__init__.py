"""The command line: each command mirrors one public function; the only part that prints."""

from __future__ import annotations

import sys

TYPE_CHECKING = False  # Without typing's import, Ctrl-C in the first moments meets our own code.
if TYPE_CHECKING:
    from collections.abc import Sequence


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 2 the input is at fault, 1 we are, 130 stopped by Ctrl-C."""
    try:
        from chainplan.cli.parser import build_parser
        from chainplan.cli.running import DONE, prepare_streams, run_command

        prepare_streams()
        parser = build_parser()
        args = parser.parse_args(argv)
        if not hasattr(args, "run"):
            parser.print_help()
            return DONE
        return run_command(args)
    except KeyboardInterrupt:
        print("chainplan: stopped; nothing was changed", file=sys.stderr)
        return 130
