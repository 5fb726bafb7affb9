"""The command line: each command mirrors one public function; the only module that prints."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

import chainplan

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

DONE, OUR_FAULT, INPUT_FAULT = 0, 1, 2


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 2 the input is at fault, 1 we are."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    parser = build_parser()
    args = parser.parse_args(argv)
    if not hasattr(args, "run"):
        parser.print_help()
        return DONE
    return run_command(args)


def run_command(args: argparse.Namespace) -> int:
    """Run the chosen command, turning errors into one message on stderr."""
    import warnings

    from chainplan.errors import ChainplanError, ExaminationError

    with warnings.catch_warnings():
        warnings.showwarning = _show_warning
        try:
            code = args.run(args)
            sys.stdout.flush()
        except ChainplanError as error:
            if args.debug:
                raise
            _complain(error, as_json=args.json)
            return OUR_FAULT if isinstance(error, ExaminationError) else INPUT_FAULT
        except BrokenPipeError:
            sys.stderr.close()
            return DONE
        except KeyboardInterrupt:
            print("chainplan: stopped; nothing was changed", file=sys.stderr)
            return 130
        except Exception as error:
            if args.debug:
                raise
            print(
                f"chainplan: a fault of ours: {type(error).__name__}: {error}\n"
                "Run the same command with --debug to see where, and report it with the input.",
                file=sys.stderr,
            )
            return OUR_FAULT
    return int(code)


def _show_warning(message: Warning | str, *_: object, **__: object) -> None:
    print(f"chainplan: note: {message}", file=sys.stderr)


def _complain(error: Exception, *, as_json: bool) -> None:
    faults = getattr(error, "faults", ())
    if as_json:
        from chainplan.report.text.record import to_json

        listed = [{"where": f.where, "found": f.found, "allowed": f.allowed} for f in faults]
        print(to_json({"ok": False, "error": str(error), "faults": listed}))
    lines = [str(fault) for fault in faults] or str(error).splitlines()
    notes = getattr(error, "__notes__", ())
    for line in lines:
        print(f"chainplan: {line}", file=sys.stderr)
    for note in notes:
        print(f"  {note}", file=sys.stderr)
    if len(faults) > 1:
        print(f"chainplan: {len(faults)} faults", file=sys.stderr)


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
        rounding=args.rounding,
        second_wire=args.second_wire,
        second_inner=args.second_inner,
    )
    from chainplan.report.text.record import count_record, to_json
    from chainplan.report.text.words import count_text

    print(to_json(count_record(count)) if args.json else count_text(count))
    return DONE


def run_weaves(args: argparse.Namespace) -> int:
    """Answer ``chainplan weaves``.

    Library: list_weaves, describe_weave, check_weave, draw_weave, draw_weaves, draw_weave_chart.
    """
    from chainplan.report.text import record, words

    if args.new:
        report = chainplan.check_weave(args.new)
        print(record.to_json(report.record()) if args.json else str(report))
        return DONE if report.ok else INPUT_FAULT
    if args.name is None:
        weaves = chainplan.list_weaves()
        listed = record.weaves_record(weaves)
        if args.picture:
            _tell_files(chainplan.draw_weaves(args.picture, wire=args.wire or "1.0mm"))
        print(record.to_json(listed) if args.json else words.weaves_text(weaves))
        return DONE
    described = chainplan.describe_weave(args.name, wire=args.wire, inner=args.inner)
    told = record.weave_record(described)
    if args.picture:
        _tell_files(chainplan.draw_weave(described, args.picture, numbers=args.numbers))
    if args.chart:
        _tell_files([chainplan.draw_weave_chart(described, args.chart)])
    print(record.to_json(told) if args.json else words.weave_text(described))
    return DONE


def _tell_files(paths: Iterable[Path]) -> None:
    for path in paths:
        print(f"chainplan: {path} written", file=sys.stderr)


def run_check(args: argparse.Namespace) -> int:
    """Answer ``chainplan check``; library: :func:`chainplan.check_job`."""
    from chainplan.report.text.record import to_json

    faults = chainplan.check_job(args.job)
    if args.json:
        listed = [{"where": f.where, "found": f.found, "allowed": f.allowed} for f in faults]
        print(to_json({"ok": not faults, "faults": listed}))
    elif faults:
        for fault in faults:
            print(fault)
        print(f"{len(faults)} {'fault' if len(faults) == 1 else 'faults'}; nothing was written")
    else:
        print(f"{args.job}: no faults found")
    return INPUT_FAULT if faults else DONE


def run_plan(args: argparse.Namespace) -> int:
    """Answer ``chainplan plan``; library: ``read_job``, ``make_plan``, ``write_plan``."""
    import gc
    import os
    from pathlib import Path

    from chainplan.folder import safe_name
    from chainplan.progress import ProgressLine
    from chainplan.report.text.words import plan_text

    # The matrices are small: further threads of the linear algebra would only wait and spin.
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    # A plan makes many objects and few cycles: looking for cycles often costs several per cent.
    gc.set_threshold(100_000, 20, 20)
    with ProgressLine() as progress:
        job = chainplan.read_job(args.job)
        plan = chainplan.make_plan(job, seed=args.seed, effort=args.effort, on_step=progress)
        out = Path(args.out) if args.out else Path("output") / safe_name(job.name)
        chainplan.write_plan(plan, out, paper=args.paper, on_step=progress)
    if args.json:
        from chainplan.report.text.record import plan_record, to_json

        print(to_json({**plan_record(plan), "folder": str(out)}))
    else:
        print(plan_text(plan, out))
    for warning in plan.warnings:
        print(f"chainplan: note: {warning}", file=sys.stderr)
    return DONE


def run_start(args: argparse.Namespace) -> int:
    """Answer ``chainplan start``; library: :func:`chainplan.start_job`."""
    from chainplan.report.text.record import to_json

    path = chainplan.start_job(args.file)
    next_step = f"chainplan plan {path}"
    if args.json:
        print(to_json({"file": str(path), "next": next_step}))
    else:
        print(f"{path} written: fill in the sheet 'pieces', then run: {next_step}")
    return DONE


def run_examine(args: argparse.Namespace) -> int:
    """Answer ``chainplan examine``; library: :func:`chainplan.examine_plan`."""
    from chainplan.report.text.record import plain, to_json

    found = chainplan.examine_plan(args.folder)
    print(to_json({"ok": found.ok, **plain(found)}) if args.json else found.text())
    return DONE if found.ok else OUR_FAULT


def run_order(args: argparse.Namespace) -> int:
    """Answer ``chainplan order``; library: :func:`chainplan.check_order`."""
    from chainplan.report.text.record import order_check_record, to_json
    from chainplan.report.text.words import order_check_text

    result = chainplan.check_order(args.job, args.check, piece=args.piece, seed=args.seed)
    print(to_json(order_check_record(result)) if args.json else order_check_text(result))
    return DONE if result.ok else INPUT_FAULT


def run_compare(args: argparse.Namespace) -> int:
    """Answer ``chainplan compare``; library: :func:`chainplan.compare_rings`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.words import compare_text

    comparison = chainplan.compare_rings(
        args.job,
        piece=args.piece,
        wires=_listed(args.wire),
        inners=_listed(args.inner),
        metals=_listed(args.metal),
        targets=args.target,
    )
    if args.picture:
        _tell_files([chainplan.draw_comparison(comparison, args.picture)])
    print(to_json(plain(comparison)) if args.json else compare_text(comparison))
    return DONE


def _listed(text: str | None) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()] if text else []


def build_parser() -> argparse.ArgumentParser:
    """Build the parser; nothing heavy is imported for it."""
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument("--json", action="store_true", help="machine-readable output")
    common.add_argument("--debug", action="store_true", help="show the full trace of an error")
    parser = argparse.ArgumentParser(
        prog="chainplan",
        description="Plans welded chainmail: rings, joins, weld order, heat, cost, bench sheet.",
        epilog="Exit status: 0 done, 2 the input is at fault, 1 the program is.",
    )
    parser.add_argument("--version", action="version", version=f"chainplan {chainplan.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    def add(name: str, run: Callable[[argparse.Namespace], int], text: str) -> Any:
        command = commands.add_parser(name, parents=[common], help=text, description=f"{text}.")
        command.set_defaults(run=run)
        return command

    start = add("start", run_start, "Write a starter workbook to fill in")
    start.add_argument("file", metavar="FILE", help="my-job.xlsx")

    check = add("check", run_check, "List every fault of a job file; writes nothing")
    check.add_argument("job", metavar="JOB", help="a .xlsx, .csv or .toml file")

    plan = add("plan", run_plan, "Plan a job and write everything the bench needs")
    plan.add_argument("job", metavar="JOB", help="a .xlsx, .csv or .toml file")
    plan.add_argument("--out", metavar="DIR", help="folder to write (default: output/<job name>)")
    plan.add_argument("--seed", type=int, default=0, help="same input and seed, same plan")
    plan.add_argument(
        "--effort",
        choices=("usual", "thorough"),
        default="usual",
        help="thorough: search for weld orders for much longer",
    )
    plan.add_argument(
        "--paper", choices=("A4", "Letter"), default="A4", help="paper of the diagrams"
    )

    count = add("count", run_count, "Count rings, joins, metal and wire for one weave and ring")
    _add_ring_options(count)

    weaves = add("weaves", run_weaves, "List the weaves, or tell about one")
    weaves.add_argument("name", nargs="?", metavar="NAME", help="a weave, to be told about it")
    weaves.add_argument("--wire", metavar="SIZE", help="1.0mm, 18AWG, 18SWG, 0.04in")
    weaves.add_argument("--inner", metavar="SIZE", help="inner diameter of the ring")
    weaves.add_argument("--new", metavar="FILE", help="check a weave file of your own")
    weaves.add_argument("--picture", metavar="FILE", help="draw it, or all of them, there")
    weaves.add_argument("--chart", metavar="FILE", help="chart rings per cm and limits there")
    weaves.add_argument("--numbers", action="store_true", help="number the rings of the picture")

    examine = add("examine", run_examine, "Examine a finished plan for contradictions")
    examine.add_argument("folder", metavar="FOLDER", help="where a plan was written")

    order = add("order", run_order, "Check a weld order of your own against the limits")
    order.add_argument("job", metavar="JOB")
    order.add_argument("--check", metavar="FILE", required=True, help="CSV with the order")
    order.add_argument("--piece", metavar="NAME", help="needed if the job has several pieces")
    order.add_argument("--seed", type=int, default=0)

    compare = add("compare", run_compare, "Compare ring sizes and metals for one piece")
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
    return parser


def _add_ring_options(count: Any) -> None:
    count.add_argument("--weave", required=True, metavar="NAME")
    count.add_argument("--wire", required=True, metavar="SIZE", help="1.0mm, 18AWG, 18SWG, 0.04in")
    ring = count.add_mutually_exclusive_group(required=True)
    ring.add_argument("--inner", metavar="SIZE", help="inner diameter of the finished ring")
    ring.add_argument("--mandrel", metavar="SIZE", help="mandrel; springback is added")
    size = count.add_mutually_exclusive_group(required=True)
    size.add_argument("--length", metavar="LENGTH", help="finished length: 450mm, 45cm, 17.7in")
    size.add_argument("--rings", type=int, metavar="N", help="or a number of rings")
    count.add_argument("--metal", default="sterling-silver", metavar="NAME")
    count.add_argument("--temper", metavar="NAME", help="annealed, half-hard, hard, spring")
    count.add_argument("--rows", type=int, metavar="N", help="width of a strip or sheet")
    count.add_argument(
        "--rounding", choices=("nearest", "at least", "at most"), default="nearest",
        help="how the length meets whole repeats",
    )  # fmt: skip
    count.add_argument("--second-wire", metavar="SIZE", help="weaves of two ring sizes")
    count.add_argument("--second-inner", metavar="SIZE")


if __name__ == "__main__":
    sys.exit(main())
