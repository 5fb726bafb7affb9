"""The commands about a whole job: start one, check it, plan it."""

from __future__ import annotations

import chainplan
from chainplan.cli.common.options import add_workers, folder, seed
from chainplan.cli.common.running import DONE, INPUT_FAULT
from chainplan.cli.common.telling import fault_records, tell_note, tell_notes

TYPE_CHECKING = False
if TYPE_CHECKING:
    import argparse

    from chainplan.cli.common.registry import Commands


LANGUAGES = ("en", "de", "fr", "it", "es")
"""As ``chainplan.model.bench.groups`` has them, which takes too long to load for the help."""


def add_commands(commands: Commands) -> None:
    """Enter ``start``, ``check`` and ``plan``."""
    start = commands.add("start", run_start, "Write a starter workbook to fill in")
    start.add_argument("file", metavar="FILE", help="my-job.xlsx")

    check = commands.add("check", run_check, "List every fault of a job file; writes nothing")
    check.add_argument("job", metavar="JOB", help="a .xlsx, .csv or .toml file")

    plan = commands.add("plan", run_plan, "Plan a job and write everything the bench needs")
    plan.add_argument("job", metavar="JOB", help="a .xlsx, .csv or .toml file")
    plan.add_argument(
        "--out", metavar="DIR", type=folder, help="folder to write (default: output/<job name>)"
    )
    plan.add_argument(
        "--strict",
        action="store_true",
        help="refuse, and write nothing, where something in a piece has no price",
    )
    plan.add_argument("--seed", type=seed, default=0, help="same input and seed, same plan")
    plan.add_argument(
        "--effort",
        choices=("usual", "thorough"),
        default="usual",
        help="thorough: search for weld orders for much longer",
    )
    plan.add_argument(
        "--paper", choices=("A4", "Letter"), default="A4", help="paper of the diagrams"
    )
    plan.add_argument(
        "--images",
        choices=("png", "svg"),
        help="write each page of the weld order as image too, and with png each chart",
    )
    plan.add_argument(
        "--language",
        choices=LANGUAGES,
        help="language of sheet and weld order (default: the job's); all but en are unreviewed",
    )
    plan.add_argument(
        "--all-sheets",
        action="store_true",
        help="put rings and weld order into the workbook too, not only into CSV",
    )
    plan.add_argument(
        "--all-charts",
        action="store_true",
        help="draw the charts of each piece in jobs of more than 100 pieces too",
    )
    add_workers(plan, cluster=True)
    plan.add_argument(
        "--fresh", action="store_true", help="plan every piece anew, whatever was planned before"
    )


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


@chainplan.keep_solved()
def run_check(args: argparse.Namespace) -> int:
    """Answer ``chainplan check``; library: :func:`chainplan.check_job`, read_job for the notes."""
    from chainplan.report.text.record import to_json

    faults = chainplan.check_job(args.job)
    if args.json:
        print(to_json({"ok": not faults, "faults": fault_records(faults)}))
    elif faults:
        for fault in faults:
            print(fault)
        print(f"{len(faults)} {'fault' if len(faults) == 1 else 'faults'}; nothing was written")
    else:
        print(f"{args.job}: no faults found")
    if not faults:
        for warning in chainplan.read_job(args.job).warnings:
            tell_note(warning)
    return INPUT_FAULT if faults else DONE


def run_plan(args: argparse.Namespace) -> int:
    """Answer ``chainplan plan``.

    Library: ``read_job``, ``check_folder``, ``make_plan``, ``check_prices``, ``write_plan``.
    """
    import gc
    from pathlib import Path

    from chainplan.progress_line import ProgressLine
    from chainplan.workers import Workers, cores, get_ready, send_home
    from chainplan.workers.memory import keep_memory
    from chainplan.writing import safe_name

    # A plan makes many objects and few cycles: looking for cycles often costs several per cent.
    gc.set_threshold(100_000, 20, 20)
    keep_memory()
    with ProgressLine() as progress:
        job = chainplan.read_job(args.job, language=args.language)
        count = args.workers or cores()
        if args.fresh:  # else it may be that nothing is left for others to do
            get_ready(Workers(count=min(count, len(job.pieces))))
        out = Path("output") / safe_name(job.name) if args.out is None else Path(args.out)
        chainplan.check_folder(out, job)
        plan = chainplan.make_plan(
            job,
            seed=args.seed,
            effort=args.effort,
            workers=count,
            cluster=args.cluster,
            keep=not args.fresh,
            on_step=progress,
        )
        if args.strict:
            chainplan.check_prices(plan)
        sampled: list[str] = []
        chainplan.write_plan(
            plan,
            out,
            paper=args.paper,
            images=args.images,
            all_sheets=args.all_sheets,
            all_charts=args.all_charts,
            workers=min(count, len(plan.pieces)),
            keep=not args.fresh,
            on_step=progress,
            on_note=sampled.append,
        )
        send_home()
    from chainplan.report.text.terminal.answers import plan_text

    if args.json:
        from chainplan.report.text.record import plan_record, to_json

        print(to_json({**plan_record(plan), "folder": str(out)}))
    else:
        print(plan_text(plan, out))
    tell_notes(plan.warnings, f"sheet 'notes' of {out / 'plan.xlsx'}")
    for note in sampled:
        tell_note(note)
    return DONE
