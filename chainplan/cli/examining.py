"""The command that examines a finished plan for contradictions."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.running import DONE, OUR_FAULT

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


def add_commands(commands: Commands) -> None:
    """Enter ``examine``."""
    examine = commands.add("examine", run_examine, "Examine a finished plan for contradictions")
    examine.add_argument("folder", metavar="FOLDER", help="where a plan was written")


def run_examine(args: argparse.Namespace) -> int:
    """Answer ``chainplan examine``; library: :func:`chainplan.examine_plan`."""
    from chainplan.report.text.record import plain, to_json

    found = chainplan.examine_plan(args.folder)
    print(to_json({"ok": found.ok, **plain(found)}) if args.json else found.text())
    return DONE if found.ok else OUR_FAULT
