"""How a command is entered: its name, what runs it, and its options."""

from __future__ import annotations

import argparse

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

    Run = Callable[[argparse.Namespace], int]


class Commands:
    """The commands of one parser; each takes the options that all have in common."""

    def __init__(self, parser: argparse.ArgumentParser) -> None:
        self._sub = parser.add_subparsers(title="commands", metavar="COMMAND")
        self._common = argparse.ArgumentParser(add_help=False)
        self._common.add_argument("--json", action="store_true", help="machine-readable output")
        self._common.add_argument(
            "--debug", action="store_true", help="show the full trace of an error"
        )
        self.runs: dict[str, Run] = {}

    def add(self, name: str, run: Run, text: str) -> argparse.ArgumentParser:
        """Enter a command; the caller adds its options to the parser that comes back.

        Parameters
        ----------
        name : str
            The word that people type.
        run : callable
            Answers the command and returns its exit status.
        text : str
            What it does, without a full stop.
        """
        command = self._sub.add_parser(
            name, parents=[self._common], help=text, description=f"{text}."
        )
        command.set_defaults(run=run)
        self.runs[name] = run
        return command
