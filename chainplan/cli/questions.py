"""The questions a maker asks before planning: which ring, what with, and what if."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.options import add_workers, listed
from chainplan.cli.common.running import DONE
from chainplan.cli.common.telling import tell_files

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


def add_commands(commands: Commands) -> None:
    """Enter ``fit``, ``substitute``, ``what-if`` and ``price-list``."""
    fit = commands.add("fit", run_fit, "Say which rings of one wire suit a weave, stock first")
    fit.add_argument("--weave", required=True, metavar="NAME")
    fit.add_argument("--wire", required=True, metavar="SIZE", help="0.9mm, 18AWG, 18SWG, 0.04in")
    fit.add_argument("--feel", default="", metavar="WORD", help="tight, supple, loose …")
    fit.add_argument("--metal", default="sterling-silver", metavar="NAME")
    fit.add_argument("--temper", metavar="NAME", help="annealed, half-hard, hard, spring")
    fit.add_argument("--rows", type=int, metavar="N", help="width of a strip or sheet")
    fit.add_argument("--job", metavar="JOB", help="whose stock holds mandrels and rings")
    fit.add_argument("--picture", metavar="FILE", help="write a chart there (.png or .svg)")

    other = commands.add(
        "substitute", run_substitute, "Say how a piece can be made from what is on the shelf"
    )
    other.add_argument("job", metavar="JOB")
    other.add_argument("--piece", metavar="NAME", help="needed if the job has several pieces")
    other.add_argument("--weave", metavar="NAME,…", help="other weaves to try")

    change = commands.add(
        "what-if", run_what_if, "Set cost and price before and after a change side by side"
    )
    change.add_argument("job", metavar="JOB")
    change.add_argument(
        "change", metavar="CHANGE", nargs="+",
        help="metal:sterling-silver+10%%, wage=35, yield=0.95, argon=0.04 …",
    )  # fmt: skip
    change.add_argument("--plan", metavar="DIR", help="take welding times from the plan there")

    prices = commands.add(
        "price-list", run_price_list, "Price the pieces of a job in a row of lengths"
    )
    prices.add_argument("job", metavar="JOB")
    prices.add_argument(
        "--lengths", required=True, metavar="LENGTH,…", help="finished: 40cm,45cm,50cm"
    )
    prices.add_argument("--piece", metavar="NAME", help="only that piece")
    add_workers(prices)


@chainplan.keep_solved()
def run_fit(args: argparse.Namespace) -> int:
    """Answer ``chainplan fit``; library: :func:`chainplan.fit_rings`, draw_fit."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.questions import fit_text

    fit = chainplan.fit_rings(
        weave=args.weave,
        wire=args.wire,
        feel=args.feel,
        metal=args.metal,
        temper=args.temper,
        rows=args.rows,
        job=args.job,
    )
    if args.picture:
        tell_files([chainplan.draw_fit(fit, args.picture)])
    print(to_json(plain(fit)) if args.json else fit_text(fit))
    return DONE


@chainplan.keep_solved()
def run_substitute(args: argparse.Namespace) -> int:
    """Answer ``chainplan substitute``; library: :func:`chainplan.substitute_rings`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.questions import shelf_text

    shelf = chainplan.substitute_rings(args.job, piece=args.piece, weaves=listed(args.weave))
    print(to_json(plain(shelf)) if args.json else shelf_text(shelf))
    return DONE


@chainplan.keep_solved()
def run_what_if(args: argparse.Namespace) -> int:
    """Answer ``chainplan what-if``; library: :func:`chainplan.what_if`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.questions import what_if_text

    answer = chainplan.what_if(args.job, args.change, plan=args.plan)
    print(to_json(plain(answer)) if args.json else what_if_text(answer))
    return DONE


@chainplan.keep_solved()
def run_price_list(args: argparse.Namespace) -> int:
    """Answer ``chainplan price-list``; library: :func:`chainplan.price_list`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.questions import price_list_text
    from chainplan.workers import cores

    answer = chainplan.price_list(
        args.job,
        lengths=listed(args.lengths),
        piece=args.piece,
        workers=args.workers or cores(),
    )
    print(to_json(plain(answer)) if args.json else price_list_text(answer))
    return DONE
