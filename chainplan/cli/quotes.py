"""The command that quotes a whole job without planning it."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.options import add_workers
from chainplan.cli.common.running import DONE
from chainplan.cli.common.telling import tell_note

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


def add_commands(commands: Commands) -> None:
    """Enter ``quote``."""
    quote = commands.add(
        "quote", run_quote, "Count, weigh and price every piece of a job, without weld orders"
    )
    quote.add_argument("job", metavar="JOB", help="a .xlsx, .csv or .toml file")
    quote.add_argument("--csv", metavar="FILE", help="write the table there too")
    add_workers(quote)


@chainplan.keep_solved()
def run_quote(args: argparse.Namespace) -> int:
    """Answer ``chainplan quote``; library: :func:`chainplan.quote_job`."""
    import gc

    from chainplan.cli.common.telling import tell_files
    from chainplan.progress_line import ProgressLine
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.quotes import quote_text, write_quote_table
    from chainplan.workers import cores

    gc.set_threshold(100_000, 20, 20)  # many objects, few cycles
    with ProgressLine() as progress:
        quote = chainplan.quote_job(args.job, workers=args.workers or cores(), on_step=progress)
    if args.csv:
        tell_files([write_quote_table(quote, args.csv)])
    print(to_json(plain(quote)) if args.json else quote_text(quote))
    for warning in quote.warnings:
        tell_note(warning)
    return DONE
