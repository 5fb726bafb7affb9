"""The commands that take reality back into the program: record, progress, learn, trace, replan."""

from __future__ import annotations

import sys

import chainplan
from chainplan.cli.common.options import seed
from chainplan.cli.common.running import DONE, INPUT_FAULT
from chainplan.cli.common.telling import tell_written

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands
    from chainplan.model.workshop.record import FileRecorded


MOST_FAULTS = 20
"""Faults of one file that are told one by one; ``--json`` has them all."""


def add_commands(commands: Commands) -> None:
    """Enter ``record``, ``progress``, ``replan``, ``learn``, ``trace`` and ``review``."""
    record = commands.add("record", run_record, "Take logs of the bench into the workshop's record")
    record.add_argument("logs", metavar="LOG", nargs="+", help="logs of bench sheets (.csv, .xlsx)")
    record.add_argument("--plan", metavar="FOLDER", required=True, help="the plan's folder")
    _add_record_option(record)
    record.add_argument(
        "--skip-bad", action="store_true", help="record a file's good rows though it has faults"
    )
    record.add_argument(
        "--person", metavar="LABEL", default="", help="who it was, for rows that do not say"
    )

    progress = commands.add(
        "progress", run_progress, "Say what is done and left, and when it is finished"
    )
    progress.add_argument(
        "folder", metavar="FOLDER", nargs="?", help="a plan's folder (default: every job known)"
    )
    _add_record_option(progress)

    learn = commands.add(
        "learn", run_learn, "Learn pace, yield, gas and more from the record of all jobs"
    )
    _add_record_option(learn)
    learn.add_argument("--write", metavar="JOB", help="put what was learnt into a job's workbook")
    learn.add_argument(
        "--only", metavar="KEY", action="append", default=[],
        help="write this figure only, such as pace.handle_s; may be given again",
    )  # fmt: skip
    learn.add_argument("--picture", metavar="FILE", help="draw it there (.png or .svg)")

    again = commands.add("replan", run_replan, "Plan what is left again, around what is welded")
    again.add_argument("folder", metavar="FOLDER", help="the plan's folder")
    again.add_argument("--job", metavar="JOB", help="the job's file, if it is elsewhere now")
    again.add_argument("--paper", choices=("A4", "Letter"), default="A4")
    _add_record_option(again)

    trace = commands.add("trace", run_trace, "Tell what became of one join, or of all")
    trace.add_argument("folder", metavar="FOLDER", help="the plan's folder")
    trace.add_argument("--ring", type=int, metavar="N", help="one ring")
    trace.add_argument("--piece", metavar="NAME", help="needed if the job has several pieces")
    trace.add_argument("--copy", type=int, metavar="N", help="one copy")
    _add_record_option(trace)

    review = commands.add("review", run_review, "Compare a job with its plan, and draw its checks")
    review.add_argument("folder", metavar="FOLDER", help="the plan's folder")
    review.add_argument(
        "--out", metavar="DIR", help="write review.pdf, .png and .xlsx and certificate.pdf there"
    )
    review.add_argument(
        "--aql", type=float, metavar="PERCENT",
        help="acceptance quality limit of the checks (default: the plan's)",
    )  # fmt: skip
    review.add_argument("--seed", type=seed, help="draws other joins (default: the plan's seed)")
    _add_record_option(review)


def _add_record_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--record", metavar="FILE", help="the record (default: workshop.sqlite beside the plan)"
    )


def run_record(args: argparse.Namespace) -> int:
    """Answer ``chainplan record``; library: :func:`chainplan.record_logs`."""
    from chainplan.report.text.record import plain, to_json

    done = chainplan.record_logs(
        args.logs, args.plan, record=args.record, skip_bad=args.skip_bad, person=args.person
    )
    faults = done.faults
    for item in done.files:
        for fault in item.faults[:MOST_FAULTS]:
            print(f"chainplan: {fault}", file=sys.stderr)
        if len(item.faults) > MOST_FAULTS:
            more = len(item.faults) - MOST_FAULTS
            print(f"chainplan: {item.file}: {more} more faults", file=sys.stderr)
    if args.json:
        print(to_json({"ok": not faults, **plain(done)}))
    else:
        for item in done.files:
            print(_became(item))
        print(f"record: {done.record}")
    return INPUT_FAULT if faults and not args.skip_bad else DONE


def _became(item: FileRecorded) -> str:
    """Say what became of one log."""
    if item.faults and not item.recorded and not item.skipped:
        faults = "1 fault" if len(item.faults) == 1 else f"{len(item.faults)} faults"
        return f"{item.file}: nothing recorded, {faults}; --skip-bad records the good rows"
    known = f", {item.known} known already" if item.known else ""
    skipped = f", {item.skipped} skipped" if item.skipped else ""
    return f"{item.file}: {item.recorded} recorded{known}{skipped}"


def run_progress(args: argparse.Namespace) -> int:
    """Answer ``chainplan progress``; library: :func:`chainplan.progress`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.workshop import progress_text

    jobs = chainplan.progress(args.folder, record=args.record)
    if args.json:
        pieces = [{"job": job.job, **plain(piece)} for job in jobs for piece in job.pieces]
        print(to_json({"pieces": pieces, "jobs": plain(jobs)}))
    else:
        print("\n\n".join(progress_text(job) for job in jobs) or "nothing is recorded yet")
    return DONE


def run_learn(args: argparse.Namespace) -> int:
    """Answer ``chainplan learn``; library: chainplan.learn, chainplan.write_learned."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.workshop import lesson_text

    lesson = chainplan.learn(record=args.record, picture=args.picture)
    written = None
    if args.write:
        written = chainplan.write_learned(lesson, args.write, only=args.only)
    if args.json:
        print(to_json({**plain(lesson), "written": plain(written)}))
        return DONE
    print(lesson_text(lesson))
    if written is not None:
        tell_written(written)
    return DONE


def run_trace(args: argparse.Namespace) -> int:
    """Answer ``chainplan trace``; library: :func:`chainplan.trace`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.workshop import trace_text

    found = chainplan.trace(
        args.folder, piece=args.piece, copy=args.copy, ring=args.ring, record=args.record
    )
    print(to_json({"joins": plain(found)}) if args.json else trace_text(found))
    return DONE


def run_review(args: argparse.Namespace) -> int:
    """Answer ``chainplan review``; library: :func:`chainplan.review`."""
    from chainplan.report.text.record import plain, to_json
    from chainplan.report.text.terminal.workshop import review_text

    found = chainplan.review(
        args.folder, record=args.record, aql_percent=args.aql, seed=args.seed, out=args.out
    )
    print(to_json(plain(found)) if args.json else review_text(found))
    return DONE


def run_replan(args: argparse.Namespace) -> int:
    """Answer ``chainplan replan``; library: :func:`chainplan.replan`."""
    from chainplan.report.text.record import to_json

    done = chainplan.replan(args.folder, job=args.job, record=args.record, paper=args.paper)
    if args.json:
        told = {"folder": str(done.folder), "welded": done.welded, "left": done.left,
                "news": list(done.news)}  # fmt: skip
        print(to_json(told))
    else:
        print("\n".join(done.news))
        print(f"written to {done.folder}: {done.left} joins are left")
    return DONE
