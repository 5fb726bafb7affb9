"""The quick answers without a whole plan: count one ring, compare several."""

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
    """Enter ``count`` and ``compare``."""
    text = "Count rings, joins, metal and wire for one weave and ring"
    _add_ring_options(commands.add("count", run_count, text))

    compare = commands.add("compare", run_compare, "Compare ring sizes and metals for one piece")
    compare.add_argument("job", metavar="JOB")
    compare.add_argument("--piece", metavar="NAME", help="needed if the job has several pieces")
    compare.add_argument("--wire", metavar="SIZE,…", help="wire sizes to compare")
    compare.add_argument("--inner", metavar="SIZE,…", help="inner diameters to compare")
    compare.add_argument("--metal", metavar="NAME,…", help="metals to compare")
    compare.add_argument(
        "--target", metavar="TEXT", action="append", default=[],
        help='such as "under 30 g", "price<=250" or "fits in 2 days"; may be given again',
    )  # fmt: skip
    compare.add_argument("--picture", metavar="FILE", help="write a chart there (.png or .svg)")
    add_workers(compare)


def _add_ring_options(count: argparse.ArgumentParser) -> None:
    count.add_argument("--weave", required=True, metavar="NAME")
    count.add_argument("--wire", required=True, metavar="SIZE", help="1.0mm, 18AWG, 18SWG, 0.04in")
    ring = count.add_mutually_exclusive_group(required=True)
    ring.add_argument("--inner", metavar="SIZE", help="inner diameter of the finished ring")
    ring.add_argument("--mandrel", metavar="SIZE", help="mandrel; springback is added")
    size = count.add_mutually_exclusive_group(required=True)
    size.add_argument("--length", metavar="LENGTH", help="finished length: 450mm, 45cm, 17.7in")
    size.add_argument("--rings", type=int, metavar="N", help="or a number of rings")
    size.add_argument("--from-wire", metavar="LENGTH", help="as long as this wire allows: 30m")
    size.add_argument("--from-mass", metavar="MASS", help="as long as this much wire allows: 50g")
    size.add_argument(
        "--from-budget", metavar="PRICE", help="as long as this price, tax included, allows"
    )
    count.add_argument("--job", metavar="JOB", help="whose bench and prices to count with")
    count.add_argument("--metal", default="sterling-silver", metavar="NAME")
    count.add_argument("--temper", metavar="NAME", help="annealed, half-hard, hard, spring")
    count.add_argument("--rows", type=int, metavar="N", help="width of a strip or sheet")
    count.add_argument(
        "--lies", metavar="HOW", help="of a strip or sheet: pulled along, pulled across, laid flat"
    )
    count.add_argument(
        "--rounding", choices=("nearest", "at least", "at most"), default="nearest",
        help="how the length meets whole repeats",
    )  # fmt: skip
    count.add_argument("--second-wire", metavar="SIZE", help="weaves of two ring sizes")
    count.add_argument("--second-inner", metavar="SIZE")


@chainplan.keep_solved()
def run_count(args: argparse.Namespace) -> int:
    """Answer ``chainplan count``; library: :func:`chainplan.count_rings`."""
    count = chainplan.count_rings(
        weave=args.weave,
        wire=args.wire,
        inner=args.inner,
        mandrel=args.mandrel,
        length=args.length,
        rings=args.rings,
        metal=args.metal,
        temper=args.temper,
        rows=args.rows,
        lies=args.lies,
        rounding=args.rounding,
        second_wire=args.second_wire,
        second_inner=args.second_inner,
        from_wire=args.from_wire,
        from_mass=args.from_mass,
        from_budget=args.from_budget,
        job=args.job,
    )
    from chainplan.report.text.record import count_record, to_json
    from chainplan.report.text.terminal.answers import count_text

    print(to_json(count_record(count)) if args.json else count_text(count))
    return DONE


@chainplan.keep_solved()
def run_compare(args: argparse.Namespace) -> int:
    """Answer ``chainplan compare``; library: :func:`chainplan.compare_rings`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.answers import compare_text
    from chainplan.workers import cores

    comparison = chainplan.compare_rings(
        args.job,
        piece=args.piece,
        wires=listed(args.wire),
        inners=listed(args.inner),
        metals=listed(args.metal),
        targets=args.target,
        workers=args.workers or cores(),
    )
    if args.picture:
        tell_files([chainplan.draw_comparison(comparison, args.picture)])
    print(to_json(plain(comparison)) if args.json else compare_text(comparison))
    return DONE
