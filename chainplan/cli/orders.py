"""The commands about weld orders of the user's own."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.options import seed
from chainplan.cli.common.running import DONE, INPUT_FAULT

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


def add_commands(commands: Commands) -> None:
    """Enter ``order``."""
    order = commands.add("order", run_order, "Check a weld order of your own against the limits")
    order.add_argument("job", metavar="JOB")
    order.add_argument("--check", metavar="FILE", required=True, help="CSV with the order")
    order.add_argument("--piece", metavar="NAME", help="needed if the job has several pieces")
    order.add_argument("--seed", type=seed, default=0)


def run_order(args: argparse.Namespace) -> int:
    """Answer ``chainplan order``; library: :func:`chainplan.check_order`."""
    from chainplan.report.text.record import order_check_record, to_json
    from chainplan.report.text.terminal.answers import order_check_text

    result = chainplan.check_order(args.job, args.check, piece=args.piece, seed=args.seed)
    print(to_json(order_check_record(result)) if args.json else order_check_text(result))
    return DONE if result.ok else INPUT_FAULT
